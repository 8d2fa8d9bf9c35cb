/* Sets of up to four pieces on a sheet, exactly: parted by cuts, or one in each corner. Twin: exact_sets.py. */
#include "nest_exact.h"

#define BOXES_MOST 512 /* of the least boxes of three pieces there are 96 at most before those within others go */

static int is_before(Paper a, Paper b) { return a.width < b.width || (a.width == b.width && a.height < b.height); }

/* The boxes in which no other lies, narrowest first; returns how many. */
static int keep_least(Paper *boxes, int count)
{
    int kept = 0;
    for (int i = 1; i < count; i++) {
        Paper box = boxes[i];
        int j = i;
        for (; j > 0 && is_before(box, boxes[j - 1]); j--)
            boxes[j] = boxes[j - 1];
        boxes[j] = box;
    }
    for (int i = 0; i < count; i++)
        if (kept == 0 || boxes[i].height < boxes[kept - 1].height)
            boxes[kept++] = boxes[i];
    return kept;
}

static int64_t max_of(int64_t a, int64_t b) { return a > b ? a : b; }

static int64_t list_least_boxes(Judge *judge, uint64_t chosen);

/* The boxes of both parts beside each other and one below the other, as far as they fit. */
static int join_boxes(Judge *judge, uint64_t near_part, uint64_t far_part, Paper *found, int count)
{
    int64_t near_row = list_least_boxes(judge, near_part), far_row = list_least_boxes(judge, far_part);
    if (near_row < 0 || far_row < 0)
        return count;
    const Paper *near_boxes = judge->box_list + near_row, *far_boxes = judge->box_list + far_row;
    for (int64_t i = 1; i <= near_boxes[0].width; i++)
        for (int64_t j = 1; j <= far_boxes[0].width && count + 2 <= BOXES_MOST; j++) {
            Paper a = near_boxes[i], b = far_boxes[j];
            if (a.width + b.width <= judge->paper.width)
                found[count++] = (Paper){a.width + b.width, max_of(a.height, b.height)};
            if (a.height + b.height <= judge->paper.height)
                found[count++] = (Paper){max_of(a.width, b.width), a.height + b.height};
        }
    return count;
}

/* The row of `box_list` with how many least boxes straight cuts can lay the pieces into, before these; -1 without memory. */
static int64_t list_least_boxes(Judge *judge, uint64_t chosen)
{
    const int64_t *known = look_up(&judge->boxes, chosen);
    if (known != NULL)
        return *known;
    Paper found[BOXES_MOST];
    int count = 0;
    uint64_t lowest = chosen & -chosen, others = chosen ^ lowest, part = others;
    if (!others) {
        const SharingPiece *piece = &judge->pieces[lowest_bit(chosen)];
        for (int64_t way = 0; way < piece->ways; way++)
            found[count++] = piece->lie[way];
    }
    while (part) {
        part = (part - 1) & others;
        count = join_boxes(judge, lowest | part, others ^ part, found, count);
    }
    count = keep_least(found, count);
    size_t row = judge->boxes_used;
    int64_t *kept = find_value(&judge->boxes, chosen, (int64_t)row);
    if (kept == NULL ||
        !grow_rows((void **)&judge->box_list, &judge->boxes_held, row + 1 + (size_t)count, sizeof(Paper))) {
        judge->nodes->spent = judge->nodes->exhausted = 1;
        return -1;
    }
    judge->box_list[row] = (Paper){count, 0};
    memcpy(judge->box_list + row + 1, found, (size_t)count * sizeof *found);
    judge->boxes_used += 1 + (size_t)count;
    return (int64_t)row;
}

/* Whether a straight cut parts the pieces into two sets that lie beside each other, or one below the other. */
int part_by_cut(Judge *judge, uint64_t chosen)
{
    uint64_t lowest = chosen & -chosen, others = chosen ^ lowest, part = others;
    while (part) {
        part = (part - 1) & others;
        int64_t near_row = list_least_boxes(judge, lowest | part), far_row = list_least_boxes(judge, others ^ part);
        if (near_row < 0 || far_row < 0)
            return 0;
        const Paper *near_boxes = judge->box_list + near_row, *far_boxes = judge->box_list + far_row;
        int64_t many = near_boxes[0].width, more = far_boxes[0].width;
        if (many && more && (near_boxes[1].width + far_boxes[1].width <= judge->paper.width ||
                             near_boxes[many].height + far_boxes[more].height <= judge->paper.height))
            return 1;
    }
    return 0;
}

/* Whether these lie one in each corner, clockwise from the top left. */
static int fit_so(Paper sheet, const Paper *p)
{
    if (p[0].width + p[1].width > sheet.width || p[2].width + p[3].width > sheet.width ||
        p[1].height + p[2].height > sheet.height || p[3].height + p[0].height > sheet.height)
        return 0;
    return (p[0].width + p[2].width <= sheet.width || p[0].height + p[2].height <= sheet.height) &&
           (p[1].width + p[3].width <= sheet.width || p[1].height + p[3].height <= sheet.height);
}

int fit_corners(const Judge *judge, uint64_t chosen)
{
    static const int ORDERS[6][3] = {{1, 2, 3}, {1, 3, 2}, {2, 1, 3}, {2, 3, 1}, {3, 1, 2}, {3, 2, 1}};
    const SharingPiece *piece[4];
    for (int i = 0; i < 4; i++, chosen &= chosen - 1)
        piece[i] = &judge->pieces[lowest_bit(chosen)];
    for (int o = 0; o < 6; o++) {
        const SharingPiece *p[4] = {piece[0], piece[ORDERS[o][0]], piece[ORDERS[o][1]], piece[ORDERS[o][2]]};
        for (int ways = 0; ways < 16; ways++) {
            Paper placed[4];
            int fits = 1;
            for (int i = 0; i < 4; i++) {
                int way = ways >> i & 1;
                fits = fits && way < p[i]->ways;
                placed[i] = p[i]->lie[way];
            }
            if (fits && fit_so(judge->paper, placed))
                return 1;
        }
    }
    return 0;
}
