/* Tables of sets, and which sets may share a sheet. Twin: SharingJudge in impose/nest/exact_sets.py, which says how. */
#include "nest_exact.h"

#define FIRST_SLOTS 256
#define FINE (INT64_C(1) << 40) /* bounds.FINE */

int take_nodes(Nodes *nodes, int64_t count)
{
    nodes->left -= count;
    if (nodes->left < 0 || (nodes->is_over != NULL && ++nodes->asked % LOOK == 0 && nodes->is_over()))
        nodes->spent = 1;
    return !nodes->spent;
}

void free_table(SetTable *table)
{
    free(table->keys);
    free(table->values);
    memset(table, 0, sizeof *table);
}

static size_t find_slot(const SetTable *table, uint64_t set)
{
    size_t slot = (size_t)((set * UINT64_C(0x9E3779B97F4A7C15)) >> 32) & (table->slots - 1);
    while (table->keys[slot] != 0 && table->keys[slot] != set)
        slot = (slot + 1) & (table->slots - 1);
    return slot;
}

static int grow_table(SetTable *table)
{
    SetTable grown = {.slots = table->slots ? 2 * table->slots : FIRST_SLOTS, .used = table->used};
    grown.keys = calloc(grown.slots, sizeof *grown.keys);
    grown.values = malloc(grown.slots * sizeof *grown.values);
    if (grown.keys == NULL || grown.values == NULL) {
        free_table(&grown);
        return 0;
    }
    for (size_t i = 0; i < table->slots; i++)
        if (table->keys[i] != 0) {
            size_t slot = find_slot(&grown, table->keys[i]);
            grown.keys[slot] = table->keys[i];
            grown.values[slot] = table->values[i];
        }
    free_table(table);
    *table = grown;
    return 1;
}

/* The set's number, `missing` if it had none; NULL without memory. Valid until the next call. */
int64_t *find_value(SetTable *table, uint64_t set, int64_t missing)
{
    if (2 * table->used >= table->slots && !grow_table(table))
        return NULL;
    size_t slot = find_slot(table, set);
    if (table->keys[slot] == 0) {
        table->keys[slot] = set;
        table->values[slot] = missing;
        table->used++;
    }
    return &table->values[slot];
}

/* The set's number, or NULL if it has none. */
const int64_t *look_up(const SetTable *table, uint64_t set)
{
    if (table->slots == 0)
        return NULL;
    size_t slot = find_slot(table, set);
    return table->keys[slot] == 0 ? NULL : &table->values[slot];
}

/* Room for so many rows; 0 without memory. */
int grow_rows(void **rows, size_t *held, size_t needed, size_t size)
{
    if (needed <= *held)
        return 1;
    size_t more = 2 * needed + 64;
    void *grown = realloc(*rows, more * size);
    if (grown == NULL)
        return 0;
    *rows = grown;
    *held = more;
    return 1;
}

/* What is known of a set from now on. */
void keep_known(Judge *judge, uint64_t chosen, int64_t value)
{
    int64_t *known = find_value(&judge->known, chosen, value);
    if (known == NULL)
        judge->nodes->spent = judge->nodes->exhausted = 1;
    else
        *known = value;
}

int open_judge(Judge *judge)
{
    if (!open_space(&judge->space, judge->sizes))
        return 0;
    for (int64_t i = 0; i < judge->count; i++)
        keep_known(judge, UINT64_C(1) << i, judge->pieces[i].ways > 0);
    return !judge->nodes->exhausted;
}

void close_judge(Judge *judge)
{
    close_space(&judge->space);
    free_table(&judge->known);
    free_table(&judge->tried);
    free_table(&judge->boxes);
    free_table(&judge->layouts);
    free(judge->box_list);
    free(judge->spots);
}

static int judge_set(Judge *judge, uint64_t chosen)
{
    if (!take_nodes(judge->nodes, 1))
        return 0;
    for (uint64_t rest = chosen; rest;) { /* the smallest piece left out first */
        uint64_t highest = UINT64_C(1) << (63 - __builtin_clzll(rest));
        if (!may_share(judge, chosen ^ highest))
            return 0;
        rest ^= highest;
    }
    for (int64_t row = 0; row < judge->duals; row++)
        if (sum_over(judge->weights + row * judge->count, chosen) > FINE)
            return 0;
    int many = count_bits(chosen);
    return many > 4 || part_by_cut(judge, chosen) || (many == 4 && fit_corners(judge, chosen));
}

/* Whether the pieces may share a sheet; never denied where they can, unless the nodes are spent. */
int may_share(Judge *judge, uint64_t chosen)
{
    if (judge->nodes->spent)
        return 0;
    const int64_t *known = look_up(&judge->known, chosen);
    if (known != NULL)
        return *known != 0;
    int may = judge_set(judge, chosen);
    if (!judge->nodes->spent)
        keep_known(judge, chosen, may);
    return may;
}

/* Those of `joining` that may each join the chosen. */
uint64_t list_joining(Judge *judge, uint64_t chosen, uint64_t joining)
{
    uint64_t may = 0;
    for (; joining; joining &= joining - 1) {
        uint64_t piece = joining & -joining;
        may |= may_share(judge, chosen | piece) ? piece : 0;
    }
    return may;
}

/* Whether any of the others may join the chosen. Of equal pieces the lowest is asked for: it was tried before, so that a
 * set with it that could not be laid is known, and one with another of them is not. */
int may_any_join(Judge *judge, uint64_t chosen, uint64_t others)
{
    for (; others; others &= ~list_equal(judge, others))
        if (may_share(judge, chosen | (others & -others)))
            return 1;
    return 0;
}

/* The pieces of the set that are of the same kind as its lowest. */
uint64_t list_equal(const Judge *judge, uint64_t set)
{
    uint64_t equal = 0;
    int64_t kind = judge->pieces[lowest_bit(set)].kind;
    for (; set && judge->pieces[lowest_bit(set)].kind == kind; set &= set - 1)
        equal |= set & -set;
    return equal;
}
