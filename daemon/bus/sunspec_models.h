/* What is read from which SunSpec model: one table, a row per point.
 * Names, offsets and types: SunSpec Alliance, model definitions (sunspec/models,
 * commit 7abdf898). */
#ifndef METERBOOK_SUNSPEC_MODELS_H
#define METERBOOK_SUNSPEC_MODELS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "map.h"

/* Models of one kind measure the same thing in different forms. */
enum sunspec_kind {
    SUNSPEC_COMMON,
    SUNSPEC_INVERTER,
    SUNSPEC_METER,
    SUNSPEC_IRRADIANCE,
    SUNSPEC_MODULE_TEMPERATURE,
    SUNSPEC_WEATHER,
    SUNSPEC_KIND_COUNT, /* none of them: skipped */
};

/* Which rows count the other way round than the record (power > 0 is import). */
enum sunspec_sign {
    SIGN_AS_IS,
    SIGN_GENERATOR, /* positive is generation: always turned round */
    SIGN_METER,     /* the standard does not say: turned round by a setting */
};

struct sunspec_row {
    uint16_t first_model, last_model; /* the row holds for all of them */
    const char *name;                 /* of the point */
    uint16_t offset;                  /* registers from the model's ID */
    uint8_t type;                     /* enum point_type */
    uint16_t scale_offset;            /* of the scale factor point, 0 = none */
    int8_t exponent;                  /* the model's fixed one; -2 for percent */
    uint8_t quantity, read_class;
    uint8_t sign;        /* enum sunspec_sign */
    bool zero_is_absent; /* an accumulator that says nothing while it is 0 */
};

const struct sunspec_row *sunspec_rows(size_t *count);

enum sunspec_kind sunspec_kind_of(int32_t model);

/* The point at a row, for a model whose ID register is at `address`. */
struct point sunspec_point(const struct sunspec_row *row, int32_t address, bool grid_sign_export);

#endif
