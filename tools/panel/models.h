/* SunSpec models as a simulated meter serves them: common block, the models
 * named in the scenario, end marker. Offsets and types: SunSpec Alliance,
 * model definitions (sunspec/models, commit 7abdf898). */
#ifndef METERBOOK_PANEL_MODELS_H
#define METERBOOK_PANEL_MODELS_H

#include <stdbool.h>
#include <stdint.h>

#include "layout.h"

enum { MODELS_MAX = 8 };

struct models_choice {
    int32_t base;           /* 40000, 0 or 50000 */
    int32_t id[MODELS_MAX]; /* in this order, each once; model 1 need not be named. Ids without a table are
                               served empty */
    int32_t count;
    int32_t common_length; /* 66, or 65 without the pad */
    int32_t unit_id;
    bool positive_is_export; /* meter models 201..214: sign of the power */
    int32_t power_exponent;  /* scale factor of integer powers: 0 up to 32 kW, 1 above */
};

/* false: does not fit the layout. */
bool models_layout(struct layout *layout, const struct models_choice *choice);

#endif
