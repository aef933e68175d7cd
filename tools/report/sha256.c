#include "sha256.h"

#include <string.h>

enum { BLOCK = 64 };

static const uint32_t constants[64] = {
    0x428a2f98, 0x71374491, 0xb5c0fbcf, 0xe9b5dba5, 0x3956c25b, 0x59f111f1, 0x923f82a4, 0xab1c5ed5,
    0xd807aa98, 0x12835b01, 0x243185be, 0x550c7dc3, 0x72be5d74, 0x80deb1fe, 0x9bdc06a7, 0xc19bf174,
    0xe49b69c1, 0xefbe4786, 0x0fc19dc6, 0x240ca1cc, 0x2de92c6f, 0x4a7484aa, 0x5cb0a9dc, 0x76f988da,
    0x983e5152, 0xa831c66d, 0xb00327c8, 0xbf597fc7, 0xc6e00bf3, 0xd5a79147, 0x06ca6351, 0x14292967,
    0x27b70a85, 0x2e1b2138, 0x4d2c6dfc, 0x53380d13, 0x650a7354, 0x766a0abb, 0x81c2c92e, 0x92722c85,
    0xa2bfe8a1, 0xa81a664b, 0xc24b8b70, 0xc76c51a3, 0xd192e819, 0xd6990624, 0xf40e3585, 0x106aa070,
    0x19a4c116, 0x1e376c08, 0x2748774c, 0x34b0bcb5, 0x391c0cb3, 0x4ed8aa4a, 0x5b9cca4f, 0x682e6ff3,
    0x748f82ee, 0x78a5636f, 0x84c87814, 0x8cc70208, 0x90befffa, 0xa4506ceb, 0xbef9a3f7, 0xc67178f2,
};

static uint32_t turn(uint32_t word, int32_t bits)
{
    return word >> bits | word << (32 - bits);
}

static void add_block(uint32_t state[8], const uint8_t block[BLOCK])
{
    uint32_t w[64], v[8];
    for (int32_t i = 0; i < 16; i++)
        w[i] = (uint32_t)block[4 * i] << 24 | (uint32_t)block[4 * i + 1] << 16 |
               (uint32_t)block[4 * i + 2] << 8 | block[4 * i + 3];
    for (int32_t i = 16; i < 64; i++) {
        uint32_t low = turn(w[i - 15], 7) ^ turn(w[i - 15], 18) ^ w[i - 15] >> 3;
        uint32_t high = turn(w[i - 2], 17) ^ turn(w[i - 2], 19) ^ w[i - 2] >> 10;
        w[i] = w[i - 16] + low + w[i - 7] + high;
    }
    memcpy(v, state, sizeof(v));
    for (int32_t i = 0; i < 64; i++) {
        uint32_t first = v[7] + (turn(v[4], 6) ^ turn(v[4], 11) ^ turn(v[4], 25)) +
                         ((v[4] & v[5]) ^ (~v[4] & v[6])) + constants[i] + w[i];
        uint32_t second = (turn(v[0], 2) ^ turn(v[0], 13) ^ turn(v[0], 22)) +
                          ((v[0] & v[1]) ^ (v[0] & v[2]) ^ (v[1] & v[2]));
        memmove(v + 1, v, 7 * sizeof(v[0]));
        v[4] += first;
        v[0] = first + second;
    }
    for (int32_t i = 0; i < 8; i++)
        state[i] += v[i];
}

void sha256(const void *data, size_t size, uint8_t digest[SHA256_SIZE])
{
    uint32_t state[8] = { 0x6a09e667, 0xbb67ae85, 0x3c6ef372, 0xa54ff53a,
                          0x510e527f, 0x9b05688c, 0x1f83d9ab, 0x5be0cd19 };
    const uint8_t *at = data;
    size_t left = size;
    for (; left >= BLOCK; left -= BLOCK, at += BLOCK)
        add_block(state, at);
    uint8_t end[2 * BLOCK] = { 0 };
    size_t blocks = left + 9 <= BLOCK ? 1 : 2;
    memcpy(end, at, left);
    end[left] = 0x80;
    for (size_t i = 0; i < 8; i++)
        end[blocks * BLOCK - 1 - i] = (uint8_t)((uint64_t)size * 8 >> 8 * i);
    for (size_t i = 0; i < blocks; i++)
        add_block(state, end + i * BLOCK);
    for (size_t i = 0; i < SHA256_SIZE; i++)
        digest[i] = (uint8_t)(state[i / 4] >> (24 - 8 * (i % 4)));
}

void sha256_base64(const uint8_t digest[SHA256_SIZE], char text[SHA256_BASE64_SIZE])
{
    static const char letters[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    for (size_t i = 0; i < SHA256_BASE64_SIZE - 1; i++) {
        size_t bit = 6 * i, byte = bit / 8;
        uint32_t pair = byte < SHA256_SIZE ? (uint32_t)digest[byte] << 8 : 0;
        pair |= byte + 1 < SHA256_SIZE ? digest[byte + 1] : 0;
        text[i] = letters[pair >> (10 - bit % 8) & 63];
    }
    text[SHA256_BASE64_SIZE - 2] = '=';
    text[SHA256_BASE64_SIZE - 1] = '\0';
}
