/* Which sources this library was made of. */
#include "loops.h"

#ifndef SOURCES
#error "give SOURCES, the hash of the sources (.ci/build_native.py does)"
#endif
#define QUOTE(x) #x
#define TEXT(x) QUOTE(x)

PUBLIC const char *library_sources(void);

const char *library_sources(void)
{
    return TEXT(SOURCES);
}
