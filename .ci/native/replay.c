/* Calls functions of a library as a file says, and prints a hash of all that they leave: replay LIBRARY CALLS
 *
 * A call is a line "name arguments whether-it-answers", then a line for each argument: "n NUMBER", or "a BYTES" followed by as many bytes.
 * Numbers and addresses are handed over alike, in 64 bits: so do the calling conventions of all systems it is for. */
#include <inttypes.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#ifdef _WIN32
#include <windows.h>
#define OPEN(path) ((void *)LoadLibraryA(path))
#define FIND(library, name) ((void *)GetProcAddress((HMODULE)(library), name))
#else
#include <dlfcn.h>
#define OPEN(path) dlopen(path, RTLD_NOW)
#define FIND(library, name) dlsym(library, name)
#endif

#define MOST 20

typedef int64_t (*Function)(int64_t, int64_t, int64_t, int64_t, int64_t, int64_t, int64_t, int64_t, int64_t, int64_t,
                            int64_t, int64_t, int64_t, int64_t, int64_t, int64_t, int64_t, int64_t, int64_t, int64_t);

/* FNV-1a, 64 bits. */
static uint64_t add_bytes(uint64_t hash, const void *bytes, size_t count)
{
    for (size_t i = 0; i < count; i++)
        hash = (hash ^ ((const unsigned char *)bytes)[i]) * UINT64_C(0x100000001b3);
    return hash;
}

static void fail(const char *what)
{
    fprintf(stderr, "%s\n", what);
    exit(2);
}

int main(int count, char **words)
{
    void *library = count == 3 ? OPEN(words[1]) : NULL;
    FILE *calls = count == 3 ? fopen(words[2], "rb") : NULL;
    if (library == NULL || calls == NULL)
        fail("no library, or no file of calls");
    char name[64], kind;
    int arguments, answers;
    while (fscanf(calls, "%63s %d %d", name, &arguments, &answers) == 3 && fgetc(calls) == '\n') {
        int64_t given[MOST] = {0};
        size_t sizes[MOST] = {0};
        Function function = (Function)FIND(library, name);
        if (function == NULL || arguments > MOST)
            fail("a function is missing, or asks for too much");
        for (int i = 0; i < arguments; i++) {
            if (fscanf(calls, "%c %" SCNd64, &kind, &given[i]) != 2 || fgetc(calls) != '\n')
                fail("the file of calls is not what it should be");
            if (kind == 'n')
                continue;
            sizes[i] = (size_t)given[i];
            void *bytes = malloc(sizes[i] + 1);
            if (bytes == NULL || fread(bytes, 1, sizes[i], calls) != sizes[i] || fgetc(calls) != '\n')
                fail("the file of calls ends early");
            given[i] = (int64_t)(intptr_t)bytes;
        }
        int64_t answer = function(given[0], given[1], given[2], given[3], given[4], given[5], given[6], given[7], given[8],
                                  given[9], given[10], given[11], given[12], given[13], given[14], given[15], given[16],
                                  given[17], given[18], given[19]);
        uint64_t hash = UINT64_C(0xcbf29ce484222325);
        for (int i = 0; i < arguments; i++)
            hash = sizes[i] ? add_bytes(hash, (void *)(intptr_t)given[i], sizes[i]) : hash;
        printf("%s %" PRId64 " %016" PRIx64 "\n", name, answers ? answer : 0, hash);
    }
    return 0;
}
