#include "disk.h"

#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { FILES = 8, SECTOR = 512, BLOCK = 4096, REGIONS = 16, LOCKS = SQLITE_SHM_NLOCK };

struct image {
    unsigned char *bytes;
    int64_t size, room;
};

struct file {
    char name[256];
    bool used;
    struct image now, lasting; /* as the programs see it; as the medium has it */
    unsigned char *dirty;      /* per sector of `now`: written since the last sync */
    int64_t dirty_room;
    int64_t dirty_from, dirty_to; /* none outside these sectors */
    int opened;
    void *regions[REGIONS];
    int shared[LOCKS], exclusive[LOCKS];
    int lock_shared, lock_reserved, lock_exclusive;
};

struct handle {
    sqlite3_file base;
    struct file *file;
    int lock;
    int shm_shared[LOCKS], shm_exclusive[LOCKS];
    bool delete_on_close;
};

static struct {
    struct file files[FILES];
    uint64_t random;
    int64_t cut_in, fail_in, fail_count, writes, bytes, syncs;
    int fail_code;
    bool cut, failed, full, growing, hostile;
} disk;

bool disk_is_growing(void)
{
    return disk.growing;
}

static void *more_memory(void *old, int64_t size)
{
    disk.growing = true;
    void *memory = realloc(old, (size_t)size);
    disk.growing = false;
    if (!memory)
        abort();
    return memory;
}

static uint64_t next_random(void)
{
    disk.random ^= disk.random << 13;
    disk.random ^= disk.random >> 7;
    disk.random ^= disk.random << 17;
    return disk.random;
}

static void image_resize(struct image *image, int64_t size)
{
    if (size > image->room) {
        int64_t room = size * 2 + 65536;
        image->bytes = more_memory(image->bytes, room);
        image->room = room;
    }
    if (size > image->size)
        memset(image->bytes + image->size, 0, (size_t)(size - image->size));
    image->size = size;
}

static void mark_dirty(struct file *file, int64_t from, int64_t to)
{
    int64_t sectors = (to + SECTOR - 1) / SECTOR;
    if (sectors > file->dirty_room) {
        int64_t room = sectors * 2 + 64;
        file->dirty = more_memory(file->dirty, room);
        memset(file->dirty + file->dirty_room, 0, (size_t)(room - file->dirty_room));
        file->dirty_room = room;
    }
    memset(file->dirty + from / SECTOR, 1, (size_t)(sectors - from / SECTOR));
    if (file->dirty_from >= file->dirty_to || from / SECTOR < file->dirty_from)
        file->dirty_from = from / SECTOR;
    if (sectors > file->dirty_to)
        file->dirty_to = sectors;
}

static void mark_clean(struct file *file)
{
    if (file->dirty_from < file->dirty_to)
        memset(file->dirty + file->dirty_from, 0, (size_t)(file->dirty_to - file->dirty_from));
    file->dirty_from = file->dirty_to = 0;
}

static void make_lasting(struct file *file)
{
    image_resize(&file->lasting, file->now.size);
    for (int64_t s = file->dirty_from, end; s < file->dirty_to; s = end) {
        bool dirty = file->dirty[s];
        for (end = s + 1; end < file->dirty_to && file->dirty[end] == dirty;)
            end++;
        int64_t to = end * SECTOR < file->now.size ? end * SECTOR : file->now.size;
        if (dirty && to > s * SECTOR)
            memcpy(file->lasting.bytes + s * SECTOR, file->now.bytes + s * SECTOR, (size_t)(to - s * SECTOR));
    }
    mark_clean(file);
}

/* A sector written but not synced reaches the medium whole, in part, or not. */
static void lose_unsynced(struct file *file)
{
    int64_t size = next_random() % 2 ? file->now.size : file->lasting.size;
    if (file->lasting.size == 0 && next_random() % 2)
        size = 0;
    image_resize(&file->lasting, size);
    for (int64_t s = 0; s * SECTOR < size && s < file->dirty_room; s++) {
        int64_t length = size - s * SECTOR < SECTOR ? size - s * SECTOR : SECTOR;
        if (!file->dirty[s] || s * SECTOR >= file->now.size)
            continue;
        if (s * SECTOR + length > file->now.size)
            length = file->now.size - s * SECTOR;
        uint64_t fate = next_random() % 8;
        if (fate == 7)
            length = (int64_t)(next_random() % (uint64_t)length);
        if (fate >= 4)
            memcpy(file->lasting.bytes + s * SECTOR, file->now.bytes + s * SECTOR, (size_t)length);
    }
}

/* A block in which anything was written but not synced may be gone altogether. */
static void make_noise(struct file *file)
{
    enum { SECTORS = BLOCK / SECTOR };
    for (int64_t b = 0; b * BLOCK < file->lasting.size; b++) {
        bool dirty = false;
        for (int64_t s = b * SECTORS; s < (b + 1) * SECTORS && s < file->dirty_room; s++)
            dirty = dirty || file->dirty[s];
        if (!dirty || next_random() % 4 != 0)
            continue;
        for (int64_t at = b * BLOCK; at < (b + 1) * BLOCK && at < file->lasting.size; at++)
            file->lasting.bytes[at] = (unsigned char)next_random();
    }
}

void disk_set_hostile(bool hostile)
{
    disk.hostile = hostile;
}

void disk_cut(void)
{
    if (disk.cut)
        return;
    disk.cut = true;
    disk.cut_in = 0;
    for (int i = 0; i < FILES; i++) {
        if (disk.files[i].used)
            lose_unsynced(&disk.files[i]);
        if (disk.files[i].used && disk.hostile)
            make_noise(&disk.files[i]);
    }
}

bool disk_is_cut(void)
{
    return disk.cut;
}

static void forget_shared(struct file *file)
{
    for (int r = 0; r < REGIONS; r++) {
        free(file->regions[r]);
        file->regions[r] = NULL;
    }
    memset(file->shared, 0, sizeof file->shared);
    memset(file->exclusive, 0, sizeof file->exclusive);
    file->lock_shared = file->lock_reserved = file->lock_exclusive = 0;
}

void disk_restore(void)
{
    disk.cut = false;
    for (int i = 0; i < FILES; i++) {
        struct file *file = &disk.files[i];
        if (!file->used)
            continue;
        forget_shared(file);
        image_resize(&file->now, file->lasting.size);
        if (file->lasting.size > 0)
            memcpy(file->now.bytes, file->lasting.bytes, (size_t)file->lasting.size);
        mark_clean(file);
    }
}

static void drop_file(struct file *file)
{
    forget_shared(file);
    free(file->now.bytes);
    free(file->lasting.bytes);
    free(file->dirty);
    memset(file, 0, sizeof *file);
}

void disk_format(void)
{
    for (int i = 0; i < FILES; i++)
        drop_file(&disk.files[i]);
    disk.cut = disk.failed = disk.full = disk.hostile = false;
    disk.cut_in = disk.fail_in = disk.writes = disk.bytes = disk.syncs = 0;
}

void disk_cut_at_write(int64_t n)
{
    disk.cut_in = n;
}

void disk_fail_at(int64_t n, int code)
{
    disk_fail_for(n, 1, code);
}

void disk_fail_for(int64_t n, int64_t count, int code)
{
    disk.fail_in = n;
    disk.fail_count = count;
    disk.fail_code = code;
    disk.failed = false;
}

bool disk_is_armed(void)
{
    return disk.cut_in > 0 || disk.fail_in > 0;
}

bool disk_failed(void)
{
    return disk.failed;
}

void disk_set_full(bool full)
{
    disk.full = full;
}

int64_t disk_writes(void)
{
    return disk.writes;
}

int64_t disk_bytes(void)
{
    return disk.bytes;
}

int64_t disk_syncs(void)
{
    return disk.syncs;
}

static struct file *find(const char *name)
{
    for (int i = 0; i < FILES; i++)
        if (disk.files[i].used && strcmp(disk.files[i].name, name) == 0)
            return &disk.files[i];
    return NULL;
}

int64_t disk_size(const char *path)
{
    const struct file *file = find(path);
    return file ? file->now.size : -1;
}

bool disk_copy_out(const char *path, const char *to)
{
    const struct file *file = find(path);
    FILE *out = file ? fopen(to, "wb") : NULL;
    if (!out)
        return false;
    size_t size = (size_t)file->now.size;
    bool written = fwrite(file->now.bytes, 1, size, out) == size;
    return fclose(out) == 0 && written;
}

/* Before a write: does it fail, or is it where the power goes? */
static int before_change(bool is_write)
{
    if (disk.cut)
        return SQLITE_IOERR;
    if (is_write && disk.cut_in > 0 && --disk.cut_in == 0) {
        disk_cut();
        return SQLITE_IOERR;
    }
    if (disk.fail_in > 0 && --disk.fail_in == 0) {
        disk.failed = true;
        disk.fail_in = --disk.fail_count > 0;
        return disk.fail_code;
    }
    return SQLITE_OK;
}

/* ---- sqlite3_io_methods ---- */

static struct file *file_of(sqlite3_file *f)
{
    return ((struct handle *)f)->file;
}

static int x_close(sqlite3_file *f)
{
    struct handle *handle = (struct handle *)f;
    struct file *file = handle->file;
    if (--file->opened > 0)
        return SQLITE_OK;
    forget_shared(file); /* who opens it next makes the log's index anew, as on unix */
    if (handle->delete_on_close)
        drop_file(file);
    return SQLITE_OK;
}

static int x_read(sqlite3_file *f, void *to, int count, sqlite3_int64 at)
{
    const struct image *image = &file_of(f)->now;
    if (disk.cut)
        return SQLITE_IOERR_READ;
    int64_t there = at < image->size ? image->size - at : 0;
    int64_t take = there < count ? there : count;
    if (take > 0)
        memcpy(to, image->bytes + at, (size_t)take);
    if (take == count)
        return SQLITE_OK;
    memset((char *)to + take, 0, (size_t)(count - take));
    return SQLITE_IOERR_SHORT_READ;
}

static int x_write(sqlite3_file *f, const void *from, int count, sqlite3_int64 at)
{
    struct file *file = file_of(f);
    int result = before_change(true);
    if (result != SQLITE_OK)
        return result;
    if (disk.full && at + count > file->now.size)
        return SQLITE_FULL;
    if (at + count > file->now.size)
        image_resize(&file->now, at + count);
    memcpy(file->now.bytes + at, from, (size_t)count);
    mark_dirty(file, at, at + count);
    disk.writes++;
    disk.bytes += count;
    return SQLITE_OK;
}

static int x_truncate(sqlite3_file *f, sqlite3_int64 size)
{
    struct file *file = file_of(f);
    int result = before_change(false);
    if (result != SQLITE_OK)
        return result;
    mark_dirty(file, size, file->now.size); /* what grows here again is zeros */
    image_resize(&file->now, size);
    return SQLITE_OK;
}

static int x_sync(sqlite3_file *f, int flags)
{
    (void)flags;
    int result = before_change(false);
    if (result != SQLITE_OK)
        return result;
    make_lasting(file_of(f));
    disk.syncs++;
    return SQLITE_OK;
}

static int x_size(sqlite3_file *f, sqlite3_int64 *size)
{
    *size = file_of(f)->now.size;
    return disk.cut ? SQLITE_IOERR : SQLITE_OK;
}

static int x_lock(sqlite3_file *f, int level)
{
    struct handle *handle = (struct handle *)f;
    struct file *file = handle->file;
    bool others_exclusive = file->lock_exclusive > (handle->lock >= SQLITE_LOCK_PENDING);
    if (level <= handle->lock)
        return SQLITE_OK;
    if (others_exclusive ||
        (level >= SQLITE_LOCK_RESERVED && file->lock_reserved > (handle->lock >= SQLITE_LOCK_RESERVED)))
        return SQLITE_BUSY;
    if (level == SQLITE_LOCK_EXCLUSIVE && file->lock_shared > (handle->lock >= SQLITE_LOCK_SHARED))
        return SQLITE_BUSY;
    file->lock_shared += handle->lock < SQLITE_LOCK_SHARED;
    file->lock_reserved += handle->lock < SQLITE_LOCK_RESERVED && level >= SQLITE_LOCK_RESERVED;
    file->lock_exclusive += handle->lock < SQLITE_LOCK_PENDING && level >= SQLITE_LOCK_PENDING;
    handle->lock = level;
    return SQLITE_OK;
}

static int x_unlock(sqlite3_file *f, int level)
{
    struct handle *handle = (struct handle *)f;
    struct file *file = handle->file;
    if (level >= handle->lock)
        return SQLITE_OK;
    file->lock_exclusive -= handle->lock >= SQLITE_LOCK_PENDING;
    file->lock_reserved -= handle->lock >= SQLITE_LOCK_RESERVED;
    file->lock_shared -= handle->lock >= SQLITE_LOCK_SHARED && level < SQLITE_LOCK_SHARED;
    handle->lock = level;
    return SQLITE_OK;
}

static int x_reserved(sqlite3_file *f, int *out)
{
    *out = file_of(f)->lock_reserved > 0;
    return SQLITE_OK;
}

static int x_control(sqlite3_file *f, int op, void *argument)
{
    (void)f;
    (void)op;
    (void)argument;
    return SQLITE_NOTFOUND;
}

static int x_sector(sqlite3_file *f)
{
    (void)f;
    return 4096; /* what the unix VFS says; it pads to this with psow=0 */
}

static int x_character(sqlite3_file *f)
{
    (void)f;
    return 0;
}

static int x_shm_map(sqlite3_file *f, int region, int size, int extend, void volatile **out)
{
    struct file *file = file_of(f);
    *out = NULL;
    if (disk.cut || region >= REGIONS)
        return SQLITE_IOERR;
    if (!file->regions[region] && extend) {
        file->regions[region] = more_memory(NULL, size);
        memset(file->regions[region], 0, (size_t)size);
    }
    *out = file->regions[region];
    return SQLITE_OK;
}

static int x_shm_lock(sqlite3_file *f, int from, int count, int flags)
{
    struct handle *handle = (struct handle *)f;
    struct file *file = handle->file;
    bool exclusive = flags & SQLITE_SHM_EXCLUSIVE, take = flags & SQLITE_SHM_LOCK;
    for (int i = from; take && i < from + count; i++)
        if (file->exclusive[i] > handle->shm_exclusive[i] ||
            (exclusive && file->shared[i] > handle->shm_shared[i]))
            return SQLITE_BUSY;
    for (int i = from; i < from + count; i++) {
        int *mine = exclusive ? &handle->shm_exclusive[i] : &handle->shm_shared[i];
        int *all = exclusive ? &file->exclusive[i] : &file->shared[i];
        if (take && !*mine) {
            ++*mine;
            ++*all;
        } else if (!take && *mine) {
            --*mine;
            --*all;
        }
    }
    return SQLITE_OK;
}

static void x_shm_barrier(sqlite3_file *f)
{
    (void)f;
}

static int x_shm_unmap(sqlite3_file *f, int delete)
{
    (void)f;
    (void)delete;
    return SQLITE_OK;
}

static const sqlite3_io_methods methods = {
    .iVersion = 2,
    .xClose = x_close,
    .xRead = x_read,
    .xWrite = x_write,
    .xTruncate = x_truncate,
    .xSync = x_sync,
    .xFileSize = x_size,
    .xLock = x_lock,
    .xUnlock = x_unlock,
    .xCheckReservedLock = x_reserved,
    .xFileControl = x_control,
    .xSectorSize = x_sector,
    .xDeviceCharacteristics = x_character,
    .xShmMap = x_shm_map,
    .xShmLock = x_shm_lock,
    .xShmBarrier = x_shm_barrier,
    .xShmUnmap = x_shm_unmap,
};

/* ---- sqlite3_vfs ---- */

static int v_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *f, int flags, int *out_flags)
{
    struct handle *handle = (struct handle *)f;
    (void)vfs;
    handle->base.pMethods = NULL;
    if (disk.cut)
        return SQLITE_CANTOPEN;
    struct file *file = name ? find(name) : NULL;
    if (!file && name && !(flags & SQLITE_OPEN_CREATE))
        return SQLITE_CANTOPEN;
    for (int i = 0; !file && i < FILES; i++)
        if (!disk.files[i].used)
            file = &disk.files[i];
    if (!file)
        return SQLITE_CANTOPEN;
    if (!file->used) {
        file->used = true;
        snprintf(file->name, sizeof file->name, "%s", name ? name : "");
    }
    file->opened++;
    memset(handle, 0, sizeof *handle);
    handle->base.pMethods = &methods;
    handle->file = file;
    handle->delete_on_close = !name || (flags & SQLITE_OPEN_DELETEONCLOSE);
    if (out_flags)
        *out_flags = flags;
    return SQLITE_OK;
}

static int v_delete(sqlite3_vfs *vfs, const char *name, int sync)
{
    (void)vfs;
    (void)sync;
    struct file *file = find(name);
    if (disk.cut)
        return SQLITE_IOERR_DELETE;
    if (!file)
        return SQLITE_IOERR_DELETE_NOENT;
    drop_file(file);
    return SQLITE_OK;
}

static int v_access(sqlite3_vfs *vfs, const char *name, int flags, int *out)
{
    (void)vfs;
    const struct file *file = find(name);
    *out = file && (flags != SQLITE_ACCESS_EXISTS || file->now.size > 0);
    return SQLITE_OK;
}

static int v_full(sqlite3_vfs *vfs, const char *name, int size, char *out)
{
    (void)vfs;
    snprintf(out, (size_t)size, "%s", name);
    return SQLITE_OK;
}

static int v_random(sqlite3_vfs *vfs, int size, char *out)
{
    (void)vfs;
    for (int i = 0; i < size; i++)
        out[i] = (char)next_random();
    return size;
}

static int v_sleep(sqlite3_vfs *vfs, int us)
{
    (void)vfs;
    return us;
}

static int v_time(sqlite3_vfs *vfs, double *out)
{
    (void)vfs;
    *out = 2461000.5;
    return SQLITE_OK;
}

static int v_error(sqlite3_vfs *vfs, int size, char *out)
{
    (void)vfs;
    (void)size;
    (void)out;
    return 0;
}

static sqlite3_vfs vfs = {
    .iVersion = 1,
    .szOsFile = sizeof(struct handle),
    .mxPathname = 255,
    .zName = "fake-disk",
    .xOpen = v_open,
    .xDelete = v_delete,
    .xAccess = v_access,
    .xFullPathname = v_full,
    .xRandomness = v_random,
    .xSleep = v_sleep,
    .xCurrentTime = v_time,
    .xGetLastError = v_error,
};

void disk_install(uint64_t seed)
{
    disk.random = seed * 2862933555777941757U + 3037000493U;
    if (disk.random == 0)
        disk.random = 1;
    sqlite3_vfs_register(&vfs, 1);
    sqlite3_randomness(0, NULL); /* reseeds SQLite's own generator from this VFS */
}
