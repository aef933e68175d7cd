#include "validate_block.h"

#include "number.h"

bool block_end(struct block *block, struct block *done)
{
    if (block->covered_s == 0)
        return false;
    *done = *block;
    block->covered_s = 0;
    return true;
}

bool block_add(struct block *block, int64_t start_s, int64_t end_s, const int64_t energy[2], bool measured,
               struct block *done)
{
    int64_t block_s = start_s - start_s % block->length_s;
    bool ended = block->start_s != block_s && block_end(block, done);
    if (block->covered_s == 0) {
        block->start_s = block_s;
        block->energy[0] = block->energy[1] = 0;
        block->measured = true;
    }
    for (int32_t c = 0; c < 2; c++)
        if (energy[c] != UNKNOWN)
            block->energy[c] += energy[c];
    block->measured = block->measured && measured;
    block->covered_s += end_s - start_s;
    return ended;
}

bool block_whole(const struct block *block)
{
    return block->covered_s == block->length_s;
}
