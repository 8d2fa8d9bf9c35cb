/* A mix covered anew a few sheets at a time. Twin: recover_paper in impose/nest/mix.py: the same draws in the same order,
 * the same comparisons. */
#include "nest_cover.h"
#include "nest_random.h"
#include "nest_sort.h"

#define APART_MOST 4
#define POOL_MOST 21 /* of so many things `random.Random.sample` draws up to five out of a list, of more it draws again */
static const int64_t APART[] = {1, 2, 2, 3, 3, 4};

typedef unsigned __int128 Gathered;

/* As Python lays it out; `work` is how much more is done before the caller is asked. */
typedef struct {
    int64_t most, patience, done, gain, work, total, bound, sheets;
} MixBudget;

typedef struct {
    int64_t stock, count;
    Spot *spots;
} MixSheet;

typedef struct {
    Cover cover;
    MixBudget *budget;
    MixSheet *sheets;
    int64_t *kinds, *limits, apart[APART_MOST];
    CoverSheets fresh;
} Mix;

PUBLIC int64_t recover_mix(const int64_t *kinds, int64_t sizes, int64_t *papers, int64_t count, const double *floors,
                           const int64_t *takes, const int64_t *ranks, int64_t straight, int64_t pieces, int64_t *spots,
                           int64_t *counts, int64_t *stocks, uint32_t *state, int64_t *budget);

static int is_spent(const MixBudget *b)
{
    if (b->most != NO_LIMIT && b->done >= b->most)
        return 1;
    return b->patience != NO_LIMIT && b->done - b->gain >= b->patience;
}

/* So many different sheets, as `random.Random.sample` draws them. */
static void choose_apart(Mix *m, int64_t wanted)
{
    int64_t of = m->budget->sheets, pool[POOL_MOST];
    for (int64_t i = 0; i < of && of <= POOL_MOST; i++)
        pool[i] = i;
    for (int64_t i = 0; i < wanted; i++) {
        if (of <= POOL_MOST) {
            int64_t j = draw_whole(m->cover.state, of - i);
            m->apart[i] = pool[j];
            pool[j] = pool[of - i - 1];
            continue;
        }
        int known = 1;
        while (known) {
            m->apart[i] = draw_whole(m->cover.state, of);
            known = 0;
            for (int64_t j = 0; j < i; j++)
                known = known || m->apart[j] == m->apart[i];
        }
    }
}

static Gathered gather_area(const Spot *spots, int64_t count)
{
    Gathered area = 0;
    for (int64_t i = 0; i < count; i++)
        area += (Gathered)(spots[i].width * spots[i].height);
    return area * area;
}

/* Whether the fresh sheets cost less than those taken apart, or as much with the waste more in one place; what they save. */
static int is_better(const Mix *m, int64_t wanted, int64_t *saved)
{
    Gathered before = 0, now = 0;
    const Spot *spots = m->fresh.spots;
    *saved = 0;
    for (int64_t i = 0; i < wanted; i++) {
        const MixSheet *sheet = &m->sheets[m->apart[i]];
        *saved += m->cover.papers[sheet->stock].price;
        before += gather_area(sheet->spots, sheet->count);
    }
    for (int64_t i = 0; i < m->fresh.sheets; spots += m->fresh.counts[i++]) {
        *saved -= m->cover.papers[m->fresh.stocks[i]].price;
        now += gather_area(spots, m->fresh.counts[i]);
    }
    return *saved > 0 || (*saved == 0 && now >= before);
}

static int set_spots(MixSheet *sheet, int64_t stock, int64_t count, const Spot *spots)
{
    *sheet = (MixSheet){stock, count, malloc((size_t)(count > 0 ? count : 1) * sizeof *spots)};
    if (sheet->spots != NULL)
        memcpy(sheet->spots, spots, (size_t)count * sizeof *spots);
    return sheet->spots != NULL;
}

/* The chosen sheets go, the last ones into their places, and the fresh ones come behind; 0 without memory. */
static int keep_fresh(Mix *m, int64_t wanted)
{
    sort_ascending(m->apart, wanted);
    for (int64_t i = wanted - 1; i >= 0; i--) {
        free(m->sheets[m->apart[i]].spots);
        m->sheets[m->apart[i]] = m->sheets[--m->budget->sheets];
    }
    const Spot *spots = m->fresh.spots;
    for (int64_t i = 0; i < m->fresh.sheets; spots += m->fresh.counts[i++])
        if (!set_spots(&m->sheets[m->budget->sheets++], m->fresh.stocks[i], m->fresh.counts[i], spots))
            return 0;
    return 1;
}

/* A few sheets taken apart and covered anew; 0 without memory, `saved` is what that saves. */
static int recover_sheets(Mix *m, int64_t *saved)
{
    Cover *c = &m->cover;
    int64_t wanted = APART[draw_whole(c->state, sizeof APART / sizeof *APART)], pieces = 0;
    if (wanted > m->budget->sheets)
        wanted = m->budget->sheets;
    choose_apart(m, wanted);
    for (int64_t s = 0; s < c->count; s++)
        m->limits[s] = c->papers[s].limit;
    for (int64_t i = 0; i < wanted; i++) {
        const MixSheet *sheet = &m->sheets[m->apart[i]];
        if (c->papers[sheet->stock].limit != NO_LIMIT)
            c->papers[sheet->stock].limit++;
        for (int64_t j = 0; j < sheet->count; j++)
            m->kinds[pieces++] = sheet->spots[j].kind;
    }
    sort_ascending(m->kinds, pieces);
    m->fresh.sheets = m->fresh.used = c->steps = 0;
    if (!cover_greedily(c, m->kinds, &pieces, BY_BLUR, 1, 0, &m->fresh))
        return 0;
    m->budget->done += c->steps;
    c->space.work += 32;
    *saved = 0;
    if (pieces == 0 && is_better(m, wanted, saved)) {
        m->budget->total -= *saved;
        return keep_fresh(m, wanted);
    }
    for (int64_t s = 0; s < c->count; s++)
        c->papers[s].limit = m->limits[s];
    *saved = 0;
    return 1;
}

/* Until something is saved, the total is the bound, the budget is spent or `work` is done; 0 without memory. */
static int recover_until_saved(Mix *m)
{
    MixBudget *b = m->budget;
    int64_t saved = 0;
    while (!saved && b->sheets > 0 && b->total > b->bound && !is_spent(b) && m->cover.space.work < b->work)
        if (!recover_sheets(m, &saved))
            return 0;
    if (saved)
        b->gain = b->done;
    return 1;
}

static int open_mix(Mix *m, int64_t pieces, const Spot *spots, const int64_t *counts, const int64_t *stocks)
{
    size_t size = (size_t)pieces + APART_MOST + 1;
    m->sheets = calloc(size, sizeof *m->sheets);
    m->kinds = malloc(size * sizeof *m->kinds);
    m->limits = malloc((size_t)m->cover.count * sizeof *m->limits);
    m->fresh.spots = malloc(size * sizeof(Spot));
    m->fresh.counts = malloc(size * sizeof *m->fresh.counts);
    m->fresh.stocks = malloc(size * sizeof *m->fresh.stocks);
    int made = open_cover(&m->cover, pieces) && m->sheets && m->kinds && m->limits && m->fresh.spots && m->fresh.counts &&
               m->fresh.stocks;
    for (int64_t i = 0; made && i < m->budget->sheets; spots += counts[i++])
        made = set_spots(&m->sheets[i], stocks[i], counts[i], spots);
    return made;
}

/* Everything back as Python lays it out. */
static void close_mix(Mix *m, Spot *spots, int64_t *counts, int64_t *stocks)
{
    for (int64_t i = 0; m->sheets != NULL && i < m->budget->sheets; i++) {
        MixSheet *sheet = &m->sheets[i];
        if (sheet->spots == NULL) /* there was no memory: nobody looks at what comes back */
            continue;
        counts[i] = sheet->count;
        stocks[i] = sheet->stock;
        memcpy(spots, sheet->spots, (size_t)sheet->count * sizeof *spots);
        spots += sheet->count;
        free(sheet->spots);
    }
    void *lists[] = {m->sheets, m->kinds, m->limits, m->fresh.spots, m->fresh.counts, m->fresh.stocks};
    for (size_t i = 0; i < sizeof lists / sizeof *lists; i++)
        free(lists[i]);
    close_cover(&m->cover);
}

/* Called again with all the same it goes on. `papers` with their limits, `spots`, `counts`, `stocks`, `state` and `budget`
 * change in place; 0, or NO_MEMORY. */
int64_t recover_mix(const int64_t *kinds, int64_t sizes, int64_t *papers, int64_t count, const double *floors,
                    const int64_t *takes, const int64_t *ranks, int64_t straight, int64_t pieces, int64_t *spots,
                    int64_t *counts, int64_t *stocks, uint32_t *state, int64_t *budget)
{
    Mix m = {
        .cover = {
            .kinds = (const Kind *)kinds, .sizes = sizes, .papers = (CoverPaper *)papers, .count = count, .floors = floors,
            .takes = takes, .ranks = ranks, .straight = straight, .state = state,
        },
        .budget = (MixBudget *)budget,
    };
    int done = open_mix(&m, pieces, (const Spot *)spots, counts, stocks) && recover_until_saved(&m);
    close_mix(&m, (Spot *)spots, counts, stocks);
    return done ? 0 : NO_MEMORY;
}
