/* links: daemon/decode.c daemon/record/muldiv.c daemon/record/quantity.c */
/* Any point over any registers: decode must answer within its contract.
 *
 * Input: 16 bytes that choose the point, then registers. libFuzzer. */
#include <stdlib.h>
#include <string.h>

#include "decode.h"

enum { CHOICE = 16, REGISTERS = 24, AT = 4, REQUEST = 100 };

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void check(bool holds)
{
    if (!holds) {
        abort();
    }
}

static struct point point_from(const uint8_t *choice)
{
    static const uint8_t sizes[TYPE_COUNT] = { 1, 1, 2, 2, 4, 4, 2, 4, 1, 2, 4, 16 };
    int32_t multiplier, divisor;
    memcpy(&multiplier, choice + 8, sizeof multiplier);
    memcpy(&divisor, choice + 12, sizeof divisor);
    struct point point = {
        .quantity = choice[0] % QUANTITY_COUNT,
        .type = choice[1] % TYPE_COUNT,
        .order = choice[2] % ORDER_COUNT,
        .negate = choice[3] & 1,
        .has_absent = choice[3] & 2,
        .exponent = (int8_t)choice[4],
        .multiplier = choice[3] & 4 ? multiplier : 1,
        .divisor = choice[3] & 8 && divisor != 0 ? divisor : 1,
        .address = REQUEST + AT,
        .scale_address = choice[3] & 16 ? REQUEST + choice[5] % REGISTERS : NO_REGISTER,
        .absent = choice[6],
        .modulus = choice[3] & 32 ? (int64_t)choice[7] << choice[6] % 55 : 0,
    };
    point.size = sizes[point.type];
    return point;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    uint16_t registers[REGISTERS] = { 0 };
    char text[TEXT_SIZE];
    struct decoded out = { .value = 42 };
    if (size < CHOICE) {
        return 0;
    }
    struct point point = point_from(data);
    for (size_t i = 0; i + 1 < size - CHOICE && i / 2 < REGISTERS; i += 2) {
        registers[i / 2] = (uint16_t)(data[CHOICE + i] << 8 | data[CHOICE + i + 1]);
    }
    enum decode_result result = decode_point(&point, registers, REQUEST, &out);
    bool counter = quantity_info(point.quantity)->kind == KIND_COUNTER;
    check(result == DECODE_OK || out.value == 42);
    check(result != DECODE_OK || !counter || (out.value >= 0 && out.step >= 1 && out.modulus >= 0));
    check(result != DECODE_OK || counter || (out.step == 0 && out.modulus == 0));
    result = decode_text(&point, registers, REQUEST, text);
    check(memchr(text, '\0', sizeof text) != NULL && (result == DECODE_OK) == (text[0] != '\0'));
    for (const char *c = text; *c != '\0'; c++) {
        check(*c >= ' ' && *c <= '~');
    }
    return 0;
}
