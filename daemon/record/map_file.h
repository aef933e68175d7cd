/* Reads a register map file; meterbook-map(5) describes it. */
#ifndef METERBOOK_MAP_FILE_H
#define METERBOOK_MAP_FILE_H

#include "map.h"
#include "source.h"

/* Fills *map from the file; what is wrong becomes complaints of *source, which
 * keeps the text and is the caller's to say and close. */
void map_file_read(struct register_map *map, struct source *source, const char *path);

/* Registers that a value of a type occupies; 0 for strings. */
int32_t type_registers(enum point_type type);

/* The words of the file format, each list ended by NULL. */
extern const char *const type_words[];
extern const char *const order_words[];
extern const char *const read_class_words[];

#endif
