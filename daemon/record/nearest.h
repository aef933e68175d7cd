/* "Did you mean": the known name nearest to a misspelt one. */
#ifndef METERBOOK_NEAREST_H
#define METERBOOK_NEAREST_H

/* `names` ends with NULL. Returns NULL where nothing is near enough. */
const char *nearest(const char *word, const char *const *names);

#endif
