/* Python's generator: Matsumoto and Nishimura (1998), MT19937. The state is `random.Random.getstate()[1]`. */
#ifndef IMPOSE_NEST_RANDOM_H
#define IMPOSE_NEST_RANDOM_H

#include "loops.h"

#define WORDS 624
#define FAR 397

/* All of the state anew. */
static inline void renew_words(uint32_t *state)
{
    for (int i = 0; i < WORDS; i++) {
        uint32_t y = (state[i] & 0x80000000u) | (state[(i + 1) % WORDS] & 0x7FFFFFFFu);
        state[i] = state[(i + FAR) % WORDS] ^ (y >> 1) ^ (y & 1 ? 0x9908B0DFu : 0);
    }
    state[WORDS] = 0;
}

static inline uint32_t draw_word(uint32_t *state)
{
    if (state[WORDS] >= WORDS)
        renew_words(state);
    uint32_t y = state[state[WORDS]++];
    y ^= y >> 11;
    y ^= (y << 7) & 0x9D2C5680u;
    y ^= (y << 15) & 0xEFC60000u;
    return y ^ (y >> 18);
}

/* What `random.Random.random` gives. */
static inline double draw_random(uint32_t *state)
{
    double high = draw_word(state) >> 5, low = draw_word(state) >> 6;
    return (high * 67108864.0 + low) * (1.0 / 9007199254740992.0);
}

/* A whole number below `end`, as `int(random() * end)`. */
static inline int64_t draw_below(uint32_t *state, double end)
{
    return (int64_t)(draw_random(state) * end);
}

#endif
