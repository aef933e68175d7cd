#include "enter_files.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "civil.h"

static FILE *make_file(const char *path)
{
    FILE *file = fopen(path, "w");
    if (!file)
        abort();
    return file;
}

static bool is_cut(const struct cut cuts[], int64_t at_s, int count, bool at_start)
{
    for (int i = 0; i < count; i++)
        if (at_s < cuts[i].to_s && (at_start ? at_s >= cuts[i].from_s : at_s > cuts[i].from_s))
            return true;
    return false;
}

static void write_stamp(FILE *file, int64_t at_s)
{
    int32_t year, month, day;
    civil_date(at_s / 86400, &year, &month, &day);
    fprintf(file, "\n%04d-%02d-%02dT%02d:%02d:%02dZ", (int)year, (int)month, (int)day,
            (int)(at_s / 3600 % 24), (int)(at_s / 60 % 60), (int)(at_s % 60));
}

static void write_header(FILE *file, const struct dataset *series, const char *per)
{
    fputs("time", file);
    for (int m = 0; m < SERIES_METERS; m++)
        for (int c = 0; c < 2; c++)
            if (series->value[m][c])
                fprintf(file, ",%s.%s[Wh%s]", series->info.meters[m].name, c ? "export" : "import", per);
}

static void write_energy(FILE *file, int64_t mwh)
{
    fprintf(file, ",%lld.%03d", (long long)(mwh / 1000), (int)(mwh % 1000));
}

void write_counters(const char *path, const struct dataset *series, const struct cut cuts[], int count)
{
    FILE *file = make_file(path);
    write_header(file, series, "");
    for (int32_t i = 0; i < series->count; i++) {
        if (is_cut(cuts, series->at_s[i], count, false))
            continue;
        write_stamp(file, series->at_s[i]);
        for (int m = 0; m < SERIES_METERS; m++)
            for (int c = 0; c < 2; c++)
                if (series->value[m][c])
                    write_energy(file,
                                 series->value[m][c][i] - series->value[m][c][i] % series->info.unit_mwh);
    }
    fputs("\n", file);
    fclose(file);
}

void write_energies(const char *path, const struct dataset *series, const struct cut cuts[], int count,
                    int64_t sums[SERIES_METERS][2])
{
    FILE *file = make_file(path);
    memset(sums, 0, SERIES_METERS * 2 * sizeof sums[0][0]);
    write_header(file, series, "/interval");
    for (int32_t i = 0; i + 1 < series->count; i++) {
        if (is_cut(cuts, series->at_s[i], count, true))
            continue;
        write_stamp(file, series->at_s[i]);
        for (int m = 0; m < SERIES_METERS; m++)
            for (int c = 0; c < 2; c++)
                if (series->value[m][c]) {
                    int64_t energy = series->value[m][c][i + 1] - series->value[m][c][i];
                    write_energy(file, energy);
                    sums[m][c] += energy;
                }
    }
    fputs("\n", file);
    fclose(file);
}
