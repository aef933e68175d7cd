#include "settings.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

void complain(struct complaints *complaints, const config_setting_t *where, const char *format, ...)
{
    char text[320], line[512];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);

    const char *file = where != NULL ? config_setting_source_file(where) : NULL;
    unsigned at = where != NULL ? config_setting_source_line(where) : 0;
    if (at > 0)
        snprintf(line, sizeof line, "%.170s:%u: %s", file != NULL ? file : complaints->path, at, text);
    else
        snprintf(line, sizeof line, "%.170s: %s", complaints->path, text);
    if (complaints->errors++ == 0)
        memcpy(complaints->first, line, sizeof line);
    if (!complaints->quiet)
        fprintf(stderr, "%s\n", line);
}

static bool is_whole(const config_setting_t *setting)
{
    int type = config_setting_type(setting);
    return type == CONFIG_TYPE_INT || type == CONFIG_TYPE_INT64;
}

static double as_number(const config_setting_t *setting)
{
    return is_whole(setting) ? (double)config_setting_get_int64(setting) : config_setting_get_float(setting);
}

/* Position of `word` in a list of words; -1 if it is not there. */
static int64_t choice_index(const char *choices, const char *word)
{
    size_t length = strlen(word);
    int64_t index = 0;
    for (const char *at = choices; *at != '\0'; index++) {
        size_t this_length = strcspn(at, " ");
        if (this_length == length && strncmp(at, word, length) == 0)
            return index;
        at += this_length;
        at += strspn(at, " ");
    }
    return -1;
}

static void read_number(struct complaints *complaints, const config_setting_t *found, const struct setting *row,
                        void *place)
{
    bool whole = row->type == SETTING_WHOLE;
    if (!is_whole(found) && (whole || config_setting_type(found) != CONFIG_TYPE_FLOAT)) {
        complain(complaints, found, "%s is not a %s, allowed is %.15g to %.15g", row->name,
                 whole ? "whole number" : "number", row->min, row->max);
        return;
    }
    double value = as_number(found);
    if (!(value >= row->min && value <= row->max)) {
        complain(complaints, found, "%s is %.15g, allowed is %.15g to %.15g", row->name, value, row->min, row->max);
        return;
    }
    if (whole)
        *(int64_t *)place = config_setting_get_int64(found);
    else
        *(double *)place = value;
}

static void read_text(struct complaints *complaints, const config_setting_t *found, const struct setting *row,
                      void *place)
{
    const char *text = config_setting_get_string(found);
    if (text == NULL) {
        complain(complaints, found, "%s is not a text in quotes", row->name);
    } else if (row->type == SETTING_CHOICE) {
        int64_t index = choice_index(row->choices, text);
        if (index < 0)
            complain(complaints, found, "%s is \"%s\", allowed is one of: %s", row->name, text, row->choices);
        else
            *(int64_t *)place = index;
    } else if (strlen(text) >= row->size) {
        complain(complaints, found, "%s is too long, allowed are %zu characters", row->name, row->size - 1);
    } else {
        memcpy(place, text, strlen(text) + 1);
    }
}

static void read_one(struct complaints *complaints, const config_setting_t *found, const struct setting *row,
                     void *target)
{
    void *place = (char *)target + row->offset;
    switch (row->type) {
    case SETTING_WHOLE:
    case SETTING_NUMBER:
        read_number(complaints, found, row, place);
        break;
    case SETTING_YES_NO:
        if (config_setting_type(found) == CONFIG_TYPE_BOOL)
            *(bool *)place = config_setting_get_bool(found) != 0;
        else
            complain(complaints, found, "%s is neither true nor false", row->name);
        break;
    case SETTING_TEXT:
    case SETTING_CHOICE:
        read_text(complaints, found, row, place);
        break;
    case SETTING_OTHER:
        break;
    }
}

static const struct setting *find_row(const struct setting *table, size_t count, const char *name)
{
    for (size_t i = 0; i < count; i++)
        if (strcmp(table[i].name, name) == 0)
            return &table[i];
    return NULL;
}

void settings_read(struct complaints *complaints, const config_setting_t *group, const struct setting *table,
                   size_t count, void *target)
{
    if (!config_setting_is_group(group)) {
        complain(complaints, group, "this is not a group, allowed is { name = value; ... }");
        return;
    }
    for (int i = 0; i < config_setting_length(group); i++) {
        const config_setting_t *found = config_setting_get_elem(group, (unsigned)i);
        const struct setting *row = find_row(table, count, config_setting_name(found));
        if (row != NULL) {
            read_one(complaints, found, row, target);
            continue;
        }
        char names[240] = "";
        for (size_t k = 0; k < count && strlen(names) + strlen(table[k].name) + 2 < sizeof names; k++) {
            size_t used = strlen(names);
            snprintf(names + used, sizeof names - used, "%s%s", k > 0 ? " " : "", table[k].name);
        }
        complain(complaints, found, "\"%s\" is unknown, allowed: %s", config_setting_name(found), names);
    }
    for (size_t i = 0; i < count; i++)
        if (table[i].required && config_setting_get_member(group, table[i].name) == NULL)
            complain(complaints, group, "%s is missing", table[i].name);
}

config_setting_t *settings_list(struct complaints *complaints, const config_setting_t *group, const char *name,
                                int max_length)
{
    config_setting_t *list = config_setting_get_member(group, name);
    if (list == NULL)
        return NULL;
    if (!config_setting_is_list(list) && !config_setting_is_array(list)) {
        complain(complaints, list, "%s is not a list, allowed is ( { ... }, { ... } )", name);
        return NULL;
    }
    if (config_setting_length(list) > max_length) {
        complain(complaints, list, "%s has %d entries, allowed are %d", name, config_setting_length(list), max_length);
        return NULL;
    }
    return list;
}

double settings_hour(const char *text)
{
    unsigned hour, minute;
    char rest;
    if (sscanf(text, "%2u:%2u%c", &hour, &minute, &rest) != 2 || hour > 24 || minute > 59)
        return -1;
    return hour + minute / 60.0;
}
