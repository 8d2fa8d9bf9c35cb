/* Which pairs of dual feasible functions see most, and of how much of each a bound on several papers is blended.
 * Twins: bounds._rank_dual_pairs and blended_values._climb_blend in impose/nest: the same pairs, the same whole numbers. */
#include "loops.h"

#define LOST ((int64_t)1 << 62) /* more than any value */
#define SHARES ((int64_t)1 << 20)
#define WHOLE_FROM 4503599627370496.0 /* 2^52: from here on every number is whole */

/* What the functions of one axis make of its lengths, as parts of the whole. */
typedef struct {
    const double *parts;
    int64_t functions, lengths;
} Axis;

/* Where a kind's lengths stand among those of the axes, lying the one way and the other. */
typedef struct {
    int64_t wide, other_wide, high, other_high;
} Lying;

/* As Python lays it out. */
typedef struct {
    int64_t turn, turns, best, most, pause;
} Climb;

PUBLIC int64_t rank_pairs(const double *across, int64_t widths, const double *down, int64_t heights, const int64_t *lying,
                          const double *counts, int64_t kinds, int64_t across_many, int64_t down_many, double *scores,
                          int64_t most, int64_t *chosen);
PUBLIC int64_t climb_blend(const int64_t *worths, const int64_t *functions, int64_t papers, const int64_t *absent,
                           const int64_t *counts, int64_t kinds, int64_t *weights, int64_t *found, int64_t *values,
                           int64_t *at);

/* To the nearest whole number, to an even one halfway. */
static double round_to_whole(double x) { return x < WHOLE_FROM ? x + WHOLE_FROM - WHOLE_FROM : x; }

/* Millionths: so that the last bits, which differ between machines, decide nothing. */
static double weigh_pair(const double *f, const double *g, const Lying *lying, const double *counts, int64_t kinds)
{
    double total = 0;
    for (int64_t k = 0; k < kinds; k++) {
        double upright = f[lying[k].wide] * g[lying[k].high], turned = f[lying[k].other_wide] * g[lying[k].other_high];
        total += (upright < turned ? upright : turned) * counts[k];
    }
    return round_to_whole(total * 1e6);
}

/* The best pairs into `chosen`, best first, the earlier of equals first; how many. `scores` has room for as many. */
int64_t rank_pairs(const double *across, int64_t widths, const double *down, int64_t heights, const int64_t *lying,
                   const double *counts, int64_t kinds, int64_t across_many, int64_t down_many, double *scores,
                   int64_t most, int64_t *chosen)
{
    int64_t held = 0;
    for (int64_t pair = 0; pair < across_many * down_many; pair++) {
        const double *f = across + pair / down_many * widths, *g = down + pair % down_many * heights;
        double score = weigh_pair(f, g, (const Lying *)lying, counts, kinds);
        if (held == most && score <= scores[held - 1])
            continue;
        int64_t place = held < most ? held++ : held - 1;
        for (; place && scores[place - 1] < score; place--) {
            scores[place] = scores[place - 1];
            chosen[place] = chosen[place - 1];
        }
        scores[place] = score;
        chosen[place] = pair;
    }
    return held;
}

/* What each kind is worth on each paper by these weights, and in all where each is worth least. */
static int64_t sum_worths(const int64_t *worths, const int64_t *functions, int64_t papers, const int64_t *absent,
                          const int64_t *counts, int64_t kinds, const int64_t *weights, int64_t *values)
{
    memset(values, 0, (size_t)(papers * kinds) * sizeof *values);
    for (int64_t s = 0; s < papers; s++, values += kinds, absent += kinds) {
        for (int64_t f = 0; f < functions[s]; f++, worths += kinds, weights++)
            for (int64_t k = 0; *weights && k < kinds; k++)
                values[k] += *weights * worths[k];
        for (int64_t k = 0; k < kinds; k++)
            if (absent[k])
                values[k] = LOST;
    }
    values -= papers * kinds;
    int64_t total = 0;
    for (int64_t k = 0; k < kinds; k++) {
        int64_t least = values[k];
        for (int64_t s = 1; s < papers; s++)
            if (values[s * kinds + k] < least)
                least = values[s * kinds + k];
        total += counts[k] * least;
    }
    return total;
}

/* The first paper on which the kind is worth least. */
static int64_t find_least(const int64_t *values, int64_t papers, int64_t kinds, int64_t k)
{
    int64_t least = 0;
    for (int64_t s = 1; s < papers; s++)
        if (values[s * kinds + k] < values[least * kinds + k])
            least = s;
    return least;
}

/* More weight where the slope is steep, less and less so from turn to turn; the sum stays at most SHARES. */
static void update_weights(int64_t *weights, const int64_t *slopes, int64_t functions, int64_t turn)
{
    int64_t steepest = 1, sum = 0;
    for (int64_t f = 0; f < functions; f++)
        if (slopes[f] > steepest)
            steepest = slopes[f];
    for (int64_t f = 0; f < functions; f++) {
        weights[f] = weights[f] * (1024 * (16 + turn) + 64 * (slopes[f] * 1024 / steepest)) >> 10;
        sum += weights[f];
    }
    for (int64_t f = 0; f < functions; f++)
        weights[f] = weights[f] * SHARES / sum;
}

/* What a function would add to the total where its paper is the one of the least worth. `values` holds, from here on,
 * the number of pieces of each kind that count on the paper. */
static void turn_weights(const int64_t *worths, const int64_t *functions, int64_t papers, const int64_t *counts,
                         int64_t kinds, int64_t *weights, int64_t *values, int64_t turn)
{
    int64_t slopes[64];
    for (int64_t k = 0; k < kinds; k++) {
        int64_t least = find_least(values, papers, kinds, k);
        for (int64_t s = 0; s < papers; s++)
            values[s * kinds + k] = s == least ? counts[k] : 0;
    }
    for (int64_t s = 0; s < papers; s++, values += kinds) {
        for (int64_t f = 0; f < functions[s]; f++, worths += kinds) {
            slopes[f] = 0;
            for (int64_t k = 0; k < kinds; k++)
                slopes[f] += worths[k] * values[k];
        }
        update_weights(weights, slopes, functions[s], turn);
        weights += functions[s];
    }
}

/* Climbs until `turns` are done, nothing is left to be won or `pause` products are counted; the best weights met are
 * in `found`. Each paper has at most 64 functions. */
int64_t climb_blend(const int64_t *worths, const int64_t *functions, int64_t papers, const int64_t *absent,
                    const int64_t *counts, int64_t kinds, int64_t *weights, int64_t *found, int64_t *values, int64_t *at)
{
    Climb *climb = (Climb *)at;
    int64_t all = 0, work = 0;
    for (int64_t s = 0; s < papers; s++)
        all += functions[s];
    while (climb->turn < climb->turns && work < climb->pause) {
        int64_t total = sum_worths(worths, functions, papers, absent, counts, kinds, weights, values);
        work += 2 * all * kinds;
        if (total > climb->best) {
            climb->best = total;
            memcpy(found, weights, (size_t)all * sizeof *found);
        }
        if (climb->best == climb->most) {
            climb->turn = climb->turns;
            break;
        }
        if (climb->turn)
            turn_weights(worths, functions, papers, counts, kinds, weights, values, climb->turn);
        else
            for (int64_t s = 0, f = 0; s < papers; s++)
                for (int64_t end = f + functions[s]; f < end; f++)
                    weights[f] = SHARES / functions[s];
        climb->turn++;
    }
    return 0;
}
