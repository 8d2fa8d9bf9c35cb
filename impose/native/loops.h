/* What all sources share. No source keeps state, and none touches more than it is given. */
#ifndef IMPOSE_LOOPS_H
#define IMPOSE_LOOPS_H

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#ifdef _WIN32
#define PUBLIC __declspec(dllexport)
#else
#define PUBLIC __attribute__((visibility("default")))
#endif

#endif
