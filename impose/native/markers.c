/* The next marker of a JPEG. Twin: the regular expression in impose/formats/jpeg_markers.py. */
#include "loops.h"

/* Where the first byte of the next marker from `at` on lies: 255 and then neither a stuffed zero, nor a restart mark, nor
   255 (ITU-T T.81, B.1.1.2); -1 if there is none within `length` bytes. */
PUBLIC int64_t find_marker(const uint8_t *content, int64_t at, int64_t length)
{
    while (at < length - 1) {
        const uint8_t *found = memchr(content + at, 0xFF, (size_t)(length - 1 - at));
        if (!found)
            return -1;
        if (found[1] && found[1] != 0xFF && (found[1] < 0xD0 || found[1] > 0xD7))
            return found - content;
        at = found - content + 1;
    }
    return -1;
}
