/* A disk in memory, as an SQLite VFS: it forgets what was not synced when the
 * power is cut, tears writes at sectors, and fails when told to. Registered as
 * the default VFS, so that a seed replays byte for byte (SQLite takes its
 * random numbers from it). One thread. */
#ifndef METERBOOK_FAKE_DISK_H
#define METERBOOK_FAKE_DISK_H

#include <stdbool.h>
#include <stdint.h>

/* Makes it the default VFS. The seed decides what a power cut keeps. */
void disk_install(uint64_t seed);

/* Removes all files and forgets all faults. */
void disk_format(void);

/* Power cut in front of the n-th write from now (1 = the next): from then on
 * every call fails until disk_restore(). 0 = never. */
void disk_cut_at_write(int64_t n);

/* Power cut now: everything not synced is lost, kept or torn by chance. */
void disk_cut(void);
bool disk_is_cut(void);

/* From now on a cut may turn whole blocks of 4 KiB that were not synced to noise, as bad cards do. */
void disk_set_hostile(bool hostile);

/* Power is back: the files as they lasted. All handles must be closed. */
void disk_restore(void);

/* The n-th write, sync or truncate from now fails with this SQLite code, once. 0 = never. */
void disk_fail_at(int64_t n, int code);
/* The same for `count` calls in a row. */
void disk_fail_for(int64_t n, int64_t count, int code);
bool disk_failed(void);
/* Is a cut or a failure still to come? */
bool disk_is_armed(void);

/* While set, writes that grow a file answer SQLITE_FULL. */
void disk_set_full(bool full);

/* Counted since disk_format(). */
int64_t disk_writes(void), disk_bytes(void), disk_syncs(void);
int64_t disk_size(const char *path);

/* Copies a file, as programs see it now, to a real path; false where either cannot be. */
bool disk_copy_out(const char *path, const char *to);

/* Whether the disk itself asks for memory just now: for those who count what others ask for. */
bool disk_is_growing(void);

#endif
