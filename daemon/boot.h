/* Which boot this is, and that only one daemon writes a record. */
#ifndef METERBOOK_BOOT_H
#define METERBOOK_BOOT_H

enum { BOOT_TEXT_SIZE = 37 };

/* The id of this boot: the kernel's where it can be read, else a random one
 * kept in the runtime directory (a memory file system that restarts of the
 * service keep and a reboot empties). It is kept there in any case, for the
 * query tool: `meterbook note clock`. Returns 0, or -1 with errno. */
int boot_id(const char *runtime, char id[BOOT_TEXT_SIZE]);

/* Locks `path` for this process until it ends. Returns a descriptor, or -1 with
 * errno; EWOULDBLOCK: another process holds it. */
int boot_lock(const char *path);

#endif
