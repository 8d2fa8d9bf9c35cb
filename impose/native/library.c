/* Which sources this library was made of. */
#include "loops.h"

#ifdef __GLIBC__
#include <malloc.h>
#endif

#ifndef SOURCES
#error "give SOURCES, the hash of the sources (.ci/build_native.py does)"
#endif
#define QUOTE(x) #x
#define TEXT(x) QUOTE(x)

PUBLIC const char *library_sources(void);
PUBLIC void keep_memory(void);

const char *library_sources(void)
{
    return TEXT(SOURCES);
}

/* Lets the C library keep the memory of one picture for the next: to get every page of it anew from the system takes a
   twentieth of the time of preparing it. Other C libraries than glibc decide that by themselves. */
void keep_memory(void)
{
#ifdef __GLIBC__
    mallopt(M_MMAP_THRESHOLD, 32 << 20);
    mallopt(M_TRIM_THRESHOLD, 128 << 20);
#endif
}
