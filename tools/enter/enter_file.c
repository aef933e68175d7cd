#include "enter_file.h"

#include <stdlib.h>
#include <string.h>

#include "enter_header.h"
#include "muldiv.h"

#define EMPTY (-1)

int enter_file_begin(struct enter_file *file, FILE *stream, const char *name, const struct enter_form *form,
                     const struct civil *civil, struct store_enter *enter)
{
    struct csv *csv = &file->csv;
    csv_init(csv, stream, name, form->separator);
    file->form = *form;
    file->clock = (struct enter_clock){ .civil = civil,
                                        .order = form->order,
                                        .dates = form->has_length && form->length.seconds == 0 };
    file->column_count = file->group_count = 0;
    file->lines = file->repeated = 0;
    int result = csv_next(csv);
    if (result == 0)
        return csv_refuse(csv, "the file is empty, a header line is missing");
    return result < 0 ? -1 : enter_header_read(file, enter);
}

bool enter_file_has_energies(const struct enter_file *file)
{
    for (int32_t i = 0; i < file->group_count; i++)
        if (file->groups[i].energies)
            return true;
    return false;
}

/* The field without blanks at its ends; it lies in the reader's own text. */
static const char *trim(const char *field, char *copy, size_t size)
{
    while (*field == ' ' || *field == '\t')
        field++;
    size_t length = strlen(field);
    while (length > 0 && (field[length - 1] == ' ' || field[length - 1] == '\t'))
        length--;
    if (length >= size)
        length = size - 1;
    memcpy(copy, field, length);
    copy[length] = '\0';
    return copy;
}

/* Digits of a number and where they lie. */
struct number {
    int64_t whole;
    int64_t fraction; /* in units of 1 / scale, rounded */
    int32_t decimals;
};

static bool read_number(const char *text, char decimal, int64_t scale, struct number *number)
{
    *number = (struct number){ 0 };
    text += *text == '+';
    if (*text < '0' || *text > '9')
        return false;
    for (; *text >= '0' && *text <= '9'; text++) {
        if (number->whole > INT64_MAX / 10 - 1)
            return false;
        number->whole = number->whole * 10 + (*text - '0');
    }
    if (!*text)
        return true;
    if (*text++ != decimal)
        return false;
    int64_t unit = scale;
    for (; *text >= '0' && *text <= '9'; text++) {
        number->decimals++;
        if (unit >= 10)
            number->fraction += (unit /= 10) * (*text - '0');
        else if (unit == 1) {
            number->fraction += *text >= '5';
            unit = 0;
        }
    }
    return number->decimals > 0 && !*text;
}

static int refuse_number(struct csv *csv, const struct enter_column *column, const char *text, char decimal)
{
    const char *sign = decimal == ',' ? "comma" : "point";
    char other = decimal == ',' ? '.' : ',';
    int field = (int)column->field + 1;
    if (text[0] == '-')
        return csv_refuse(csv, "field %d: '%.40s' is negative, counters and energies are 0 or more", field,
                          text);
    if (strchr(text, other))
        return csv_refuse(csv,
                          "field %d: '%.40s' is no number with a decimal %s (--decimal declares the sign)",
                          field, text, sign);
    return csv_refuse(csv, "field %d: '%.40s' is no number: allowed are digits with a decimal %s", field,
                      text, sign);
}

/* Reads a cell to mWh, EMPTY where nothing stands in it. */
static int read_value(struct enter_file *file, struct enter_column *column, int64_t *value)
{
    struct csv *csv = &file->csv;
    struct number number;
    char text[64];
    *value = EMPTY;
    if (!*trim(csv->fields[column->field], text, sizeof(text)))
        return 0;
    if (!read_number(text, file->form.decimal, column->scale, &number))
        return refuse_number(csv, column, text, file->form.decimal);
    /* An account holds far more than this; sums of it must not overflow. */
    if (!mul_div_fits(number.whole, column->scale, 1, value) || *value > INT64_MAX / 16)
        return csv_refuse(csv, "field %d: '%s' is too large", (int)column->field + 1, text);
    *value += number.fraction;
    int64_t step = column->scale;
    for (int32_t i = 0; i < number.decimals && step > 1; i++)
        step /= 10;
    if (step < column->step)
        column->step = step;
    return 0;
}

static int read_time(struct enter_file *file, int64_t *utc_ms)
{
    char text[64], why[160];
    const char *wrong =
        enter_clock_read(&file->clock, trim(file->csv.fields[0], text, sizeof(text)), utc_ms, why);
    return wrong ? csv_refuse(&file->csv, "%s", wrong) : 0;
}

int enter_file_measure(struct enter_file *file)
{
    int64_t stamps[2];
    if (!enter_file_has_energies(file) || file->form.has_length)
        return 0;
    for (int i = 0; i < 2; i++) {
        int result = csv_next(&file->csv);
        if (result == 0)
            return i == 0 ? 0
                          : csv_refuse(&file->csv,
                                       "one line alone does not tell how long an interval is: --length does");
        if (result < 0 || read_time(file, &stamps[i]) != 0)
            return -1;
    }
    int64_t ms = stamps[1] - stamps[0];
    if (ms <= 0 || ms % 1000 != 0 || ms > INT64_C(86400000))
        return csv_refuse(&file->csv,
                          "the first two lines do not tell how long an interval is: --length does");
    file->form.length = (struct enter_length){ .seconds = ms / 1000 };
    return 0;
}

int enter_file_attach(struct enter_file *file, struct enter_batch *batch)
{
    for (int32_t i = 0; i < file->group_count; i++) {
        struct enter_group *group = &file->groups[i];
        group->series =
            enter_batch_series(batch, group->meter.number, group->mask, group->energies,
                               group->meter.rated_w * 1000, file->form.same_register && !group->energies);
        if (!group->series)
            return csv_refuse(&file->csv, "too many meters, up to %d are allowed", ENTER_MAX_SERIES);
    }
    return 0;
}

/* Have all registers of a group a value, or none? Returns 1, 0, -1. */
static int group_filled(struct enter_file *file, int32_t g)
{
    int32_t filled = 0, columns = 0, empty = 0;
    for (int32_t i = 0; i < file->column_count; i++) {
        if (file->columns[i].series != g)
            continue;
        columns++;
        if (file->values[i] == EMPTY)
            empty = file->columns[i].field;
        else
            filled++;
    }
    if (filled == 0 || filled == columns)
        return filled > 0;
    return csv_refuse(
        &file->csv,
        "field %d is empty, the meter's other register is not: enter them from two files, a register each",
        (int)empty + 1);
}

static void fill_reading(const struct enter_file *file, int32_t g, int64_t at_ms, struct reading *reading)
{
    const struct enter_group *group = &file->groups[g];
    memset(reading, 0, sizeof(*reading));
    reading->boot_ms = at_ms;
    for (int32_t i = 0; i < file->column_count; i++) {
        const struct enter_column *column = &file->columns[i];
        if (column->series != g)
            continue;
        reading->counter[column->counter] = (struct counter_reading){
            .value = group->energies ? group->sum[column->counter] : file->values[i],
            .step = column->step,
            .raw = (uint64_t)file->csv.line,
        };
        reading->has[column->counter] = true;
    }
}

static int give(struct enter_file *file, struct enter_batch *batch, int32_t g, int64_t at_ms, bool begins,
                enum enter_result *result)
{
    struct reading reading;
    fill_reading(file, g, at_ms, &reading);
    *result = (enum enter_result)enter_batch_read(batch, file->groups[g].series, &reading, begins);
    return *result == ENTER_OK ? 1 : -2;
}

/* An interval's energy: the sum of all so far is a register, read at both ends. */
static int give_energy(struct enter_file *file, struct enter_batch *batch, int32_t g, int64_t stamp_ms,
                       enum enter_result *result)
{
    struct enter_group *group = &file->groups[g];
    int64_t other_ms =
        enter_length_from(&file->form.length, file->clock.civil, stamp_ms, file->form.stamp_end);
    int64_t from_ms = file->form.stamp_end ? other_ms : stamp_ms,
            to_ms = file->form.stamp_end ? stamp_ms : other_ms;
    int code = 1;
    if (group->begun && from_ms < group->end_ms)
        return csv_refuse(
            &file->csv, "the interval begins before the one before it ends: --length says how long they are");
    if (!group->begun || from_ms > group->end_ms)
        code = give(file, batch, g, from_ms, group->begun, result);
    if (code != 1)
        return code;
    for (int32_t i = 0; i < file->column_count; i++) {
        if (file->columns[i].series != g)
            continue;
        int64_t *sum = &group->sum[file->columns[i].counter];
        if (file->values[i] > INT64_MAX / 16 - *sum)
            return csv_refuse(&file->csv, "the sum of the energies is too large");
        *sum += file->values[i];
    }
    group->begun = true;
    group->end_ms = to_ms;
    return give(file, batch, g, to_ms, false, result);
}

/* Reads the line's time and values. Returns 1, 0 (the same as the line before), -1. */
static int read_line(struct enter_file *file, int64_t *stamp_ms)
{
    struct csv *csv = &file->csv;
    struct enter_clock clock = file->clock;
    bool same = true;
    if (csv->count < file->field_count || csv->count > file->field_count)
        return csv_refuse(csv, "%d fields, the header has %d", (int)csv->count, (int)file->field_count);
    if (read_time(file, stamp_ms) != 0)
        return -1;
    for (int32_t i = 0; i < file->column_count; i++) {
        int64_t before = file->values[i];
        if (read_value(file, &file->columns[i], &file->values[i]) != 0)
            return -1;
        same = same && before == file->values[i];
    }
    if (!clock.seen || *stamp_ms > clock.last_ms)
        return 1;
    if (*stamp_ms == clock.last_ms && same)
        return 0;
    return csv_refuse(csv, *stamp_ms == clock.last_ms ? "the time of the line before, with other values"
                                                      : "earlier than the line before, times must rise");
}

int enter_file_line(struct enter_file *file, struct enter_batch *batch, enum enter_result *result)
{
    int64_t stamp_ms = 0;
    int code = csv_next(&file->csv);
    if (code != 1)
        return code;
    code = read_line(file, &stamp_ms);
    if (code < 0)
        return code;
    file->lines++;
    file->repeated += code == 0;
    if (file->lines == 1)
        file->first_ms = stamp_ms;
    file->last_ms = stamp_ms;
    for (int32_t g = 0; g < file->group_count && code == 1; g++) {
        int filled = group_filled(file, g);
        if (filled < 0)
            return -1;
        if (filled == 0)
            continue;
        code = file->groups[g].energies ? give_energy(file, batch, g, stamp_ms, result)
                                        : give(file, batch, g, stamp_ms, false, result);
    }
    return code < 0 ? code : 1;
}
