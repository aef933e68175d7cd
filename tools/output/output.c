#include "output.h"

const struct output *output_of(const struct options *options)
{
    static const struct output *const outputs[FORMAT_COUNT] = {
        [FORMAT_TABLE] = &output_table,
        [FORMAT_CSV] = &output_csv,
        [FORMAT_JSON] = &output_json,
    };
    return outputs[options->format];
}
