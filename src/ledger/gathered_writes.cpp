#include "ledger/gathered_writes.hpp"

#include <sqlite3.h>

#include <algorithm>
#include <cstdlib>
#include <memory>
#include <new>
#include <stdexcept>
#include <utility>

namespace ebbtide::ledger {
namespace {

/// Holds a run with its recording; larger pieces are written no faster. SQLite's layers for Unix silently
/// write no more than 131,071 bytes of what they are given at once.
constexpr int most_bytes = 96 * 1024;

struct Freed {
    void operator()(void* memory) const { std::free(memory); }
};

/// What SQLite holds of an open file.
struct GatheredFile : sqlite3_file {
    std::unique_ptr<sqlite3_file, Freed> below;  ///< the same file on the layer below
    std::unique_ptr<char, Freed> bytes;          ///< written, and not handed on yet
    int count = 0;
    sqlite3_int64 place = 0;  ///< of the first of them
    int failure = SQLITE_OK;  ///< of a write that was handed on where nobody could be told
    GatheredFile* database = nullptr;
    GatheredFile* log = nullptr;  ///< of a database: its write-ahead log, while that is open

    void hand_on() {
        if (count == 0) return;
        const int code = below->pMethods->xWrite(below.get(), bytes.get(), count, place);
        if (failure == SQLITE_OK) failure = code;
        count = 0;
    }
    /// SQLite takes back what it wrote when it learns of a failure, so it learns of it once.
    [[nodiscard]] int handed_on() {
        hand_on();
        return std::exchange(failure, SQLITE_OK);
    }
};

GatheredFile& of(sqlite3_file* file) {
    return *static_cast<GatheredFile*>(file);
}

/// Asks the file below, once all that was written lies there.
template <class Ask, class... With>
int then(sqlite3_file* file, Ask ask, With... with) {
    if (const int code = of(file).handed_on(); code != SQLITE_OK) return code;
    sqlite3_file* below = of(file).below.get();
    return (below->pMethods->*ask)(below, with...);
}

int write(sqlite3_file* file, const void* bytes, int count, sqlite3_int64 place) {
    GatheredFile& gathered = of(file);
    const bool follows = place == gathered.place + gathered.count;
    if (!follows || gathered.count + count > most_bytes)
        if (const int code = gathered.handed_on(); code != SQLITE_OK) return code;
    if (count > most_bytes) return then(file, &sqlite3_io_methods::xWrite, bytes, count, place);
    if (gathered.count == 0) gathered.place = place;
    std::copy_n(static_cast<const char*>(bytes), count, gathered.bytes.get() + gathered.count);
    gathered.count += count;
    return SQLITE_OK;
}

int close(sqlite3_file* file) {
    GatheredFile& gathered = of(file);
    const int written = gathered.handed_on();
    const int closed = gathered.below->pMethods->xClose(gathered.below.get());
    if (gathered.database) gathered.database->log = nullptr;
    if (gathered.log) gathered.log->database = nullptr;
    gathered.~GatheredFile();
    return written == SQLITE_OK ? closed : written;
}
int read(sqlite3_file* file, void* into, int count, sqlite3_int64 place) {
    return then(file, &sqlite3_io_methods::xRead, into, count, place);
}
int truncate(sqlite3_file* file, sqlite3_int64 size) {
    return then(file, &sqlite3_io_methods::xTruncate, size);
}
int sync(sqlite3_file* file, int how) {
    return then(file, &sqlite3_io_methods::xSync, how);
}
int file_size(sqlite3_file* file, sqlite3_int64* size) {
    return then(file, &sqlite3_io_methods::xFileSize, size);
}
int lock(sqlite3_file* file, int kind) {
    return then(file, &sqlite3_io_methods::xLock, kind);
}
int unlock(sqlite3_file* file, int kind) {
    of(file).hand_on();  // a lock is let go whatever the disk says
    sqlite3_file* below = of(file).below.get();
    return below->pMethods->xUnlock(below, kind);
}
int check_lock(sqlite3_file* file, int* held) {
    return then(file, &sqlite3_io_methods::xCheckReservedLock, held);
}
int file_control(sqlite3_file* file, int what, void* with) {
    of(file).hand_on();  // SQLite passes over what most of these answer
    sqlite3_file* below = of(file).below.get();
    return below->pMethods->xFileControl(below, what, with);
}
int sector_size(sqlite3_file* file) {
    sqlite3_file* below = of(file).below.get();
    return below->pMethods->xSectorSize(below);
}
int characteristics(sqlite3_file* file) {
    sqlite3_file* below = of(file).below.get();
    return below->pMethods->xDeviceCharacteristics(below);
}
int shm_map(sqlite3_file* file, int page, int size, int extend, void volatile** at) {
    return then(file, &sqlite3_io_methods::xShmMap, page, size, extend, at);
}
int shm_lock(sqlite3_file* file, int offset, int count, int flags) {
    of(file).hand_on();
    sqlite3_file* below = of(file).below.get();
    return below->pMethods->xShmLock(below, offset, count, flags);
}
void shm_barrier(sqlite3_file* file) {
    // What is told to others next may stand in the log, and was not flushed where nothing waits for the disk.
    if (of(file).log) of(file).log->hand_on();
    of(file).hand_on();
    sqlite3_file* below = of(file).below.get();
    below->pMethods->xShmBarrier(below);
}
int shm_unmap(sqlite3_file* file, int remove) {
    return then(file, &sqlite3_io_methods::xShmUnmap, remove);
}

// Version 2: without the calls of version 3 SQLite maps no file into memory, which would pass by this layer.
constexpr sqlite3_io_methods methods{
    2,         close,      read,         write,       truncate,        sync,    file_size, lock,
    unlock,    check_lock, file_control, sector_size, characteristics, shm_map, shm_lock,  shm_barrier,
    shm_unmap, nullptr,    nullptr};

int open(sqlite3_vfs*, const char* name, sqlite3_file* file, int flags, int* given) {
    sqlite3_vfs* const system = sqlite3_vfs_find(nullptr);
    file->pMethods = nullptr;  // until it is open
    std::unique_ptr<sqlite3_file, Freed> below(
        static_cast<sqlite3_file*>(std::calloc(1, static_cast<std::size_t>(system->szOsFile))));
    std::unique_ptr<char, Freed> bytes(static_cast<char*>(std::malloc(most_bytes)));
    if (!below || !bytes) return SQLITE_NOMEM;
    const int code = system->xOpen(system, name, below.get(), flags, given);
    if (code != SQLITE_OK) {
        if (below->pMethods) below->pMethods->xClose(below.get());
        return code;
    }
    auto* gathered = new (file) GatheredFile;
    gathered->below = std::move(below);
    gathered->bytes = std::move(bytes);
    gathered->pMethods = &methods;
    if ((flags & SQLITE_OPEN_WAL) != 0) {
        gathered->database = &of(sqlite3_database_file_object(name));
        gathered->database->log = gathered;
    }
    return SQLITE_OK;
}

int remove(sqlite3_vfs*, const char* name, int and_sync) {
    sqlite3_vfs* const system = sqlite3_vfs_find(nullptr);
    return system->xDelete(system, name, and_sync);
}

/// All else is the system's, which does not look at whose call it is.
sqlite3_vfs layer_on(const sqlite3_vfs& system) {
    sqlite3_vfs layer = system;
    layer.zName = "gathered writes";
    layer.szOsFile = static_cast<int>(sizeof(GatheredFile));
    layer.pNext = nullptr;
    layer.pAppData = nullptr;
    layer.xOpen = open;
    layer.xDelete = remove;
    return layer;
}

}  // namespace

const char* gathering_layer() {
    // SQLite keeps its list of layers for the whole process.
    static sqlite3_vfs layer = layer_on(*sqlite3_vfs_find(nullptr));
    static const int registered = sqlite3_vfs_register(&layer, 0);
    if (registered != SQLITE_OK) throw std::runtime_error("SQLite takes no file layer");
    return layer.zName;
}

}  // namespace ebbtide::ledger
