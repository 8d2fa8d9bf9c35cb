/* All pieces on one sheet, by trying. Twin: _SheetSearch in impose/nest/exact_sheet.py, which says how. */
#include "nest_exact.h"

typedef struct {
    int64_t x, y, width;
} Segment;

typedef struct {
    int64_t width, height, turn, count;
} Size;

typedef struct {
    Size *sizes;
    int64_t kinds, height, nodes, placed;
    Question is_over;
    Spot *spots;
} Packing;

/* The skyline once `width` of segment `at`, from its left, stands at `top`; level neighbours become one. */
static int raise_skyline(const Segment *line, int count, int at, int64_t width, int64_t top, Segment *out)
{
    int made = 0;
    for (int i = 0; i < count; i++) {
        Segment parts[2] = {line[i]};
        int some = 1;
        if (i == at) {
            parts[0] = (Segment){line[i].x, top, width};
            if (width < line[i].width)
                parts[some++] = (Segment){line[i].x + width, line[i].y, line[i].width - width};
        }
        for (int p = 0; p < some; p++) {
            if (made > 0 && out[made - 1].y == parts[p].y)
                out[made - 1].width += parts[p].width;
            else
                out[made++] = parts[p];
        }
    }
    return made;
}

static int find_lowest(const Segment *line, int count)
{
    int at = 0;
    for (int i = 1; i < count; i++)
        if (line[i].y < line[at].y) /* the leftmost of equals comes first */
            at = i;
    return at;
}

static int pack_from(Packing *p, const Segment *line, int count, int64_t spare, int64_t left);

/* The gap given up to its lower neighbour, if the sheet can spare it. */
static int waste_gap(Packing *p, const Segment *line, int count, int at, int64_t spare, int64_t left)
{
    Segment raised[PIECES_MOST + 2];
    int64_t beside = INT64_MAX;
    if (at > 0)
        beside = line[at - 1].y;
    if (at + 1 < count && line[at + 1].y < beside)
        beside = line[at + 1].y;
    if (beside == INT64_MAX)
        return 0;
    int64_t lost = (beside - line[at].y) * line[at].width;
    return lost <= spare &&
           pack_from(p, raised, raise_skyline(line, count, at, line[at].width, beside, raised), spare - lost, left);
}

static int pack_from(Packing *p, const Segment *line, int count, int64_t spare, int64_t left)
{
    Segment raised[PIECES_MOST + 2];
    if (!left)
        return 1;
    p->nodes--;
    if (p->nodes % LOOK == 0 && p->is_over != NULL && p->is_over())
        p->nodes = 0;
    if (p->nodes < 0)
        return 0;
    int at = find_lowest(line, count);
    int64_t x = line[at].x, y = line[at].y, gap = line[at].width;
    for (int64_t k = 0; k < p->kinds; k++) {
        Size *size = &p->sizes[k];
        int ways = size->turn && size->width != size->height ? 2 : 1;
        for (int way = 0; way < ways && size->count > 0; way++) {
            int64_t w = way ? size->height : size->width, h = way ? size->width : size->height;
            if (w > gap || y + h > p->height)
                continue;
            size->count--;
            p->spots[p->placed++] = (Spot){k, x, y, w, h};
            if (pack_from(p, raised, raise_skyline(line, count, at, w, y + h, raised), spare, left - 1))
                return 1;
            p->placed--;
            size->count++;
        }
    }
    return waste_gap(p, line, count, at, spare, left);
}

/* `sizes` (width, height, turn, count) in the order to try, `spare` the area that may be lost; `spots` gets what lies
 * where, its kind the row of `sizes`. 1, or 0 if none was found. */
int64_t pack_sheet(int64_t *sizes, int64_t kinds, int64_t width, int64_t height, int64_t spare, int64_t pieces, int64_t nodes,
                   Question is_over, int64_t *spots)
{
    Packing p = {(Size *)sizes, kinds, height, nodes, 0, is_over, (Spot *)spots};
    Segment line[] = {{0, 0, width}};
    return pieces <= PIECES_MOST && pack_from(&p, line, 1, spare, pieces);
}
