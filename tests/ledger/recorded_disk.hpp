#pragma once
// A file layer for SQLite that remembers every write, sync and name. While one lives it is the default of
// SQLite and passes everything on to the layer of the system. The shared memory beside a write-ahead log
// passes unseen: after a crash it is made anew from the log.

#include <sqlite3.h>

#include <cstdint>
#include <map>
#include <memory>
#include <stdexcept>
#include <string>
#include <vector>

namespace ebbtide::testing_support {

/// One thing that was asked of the disk. A file is a number: its name may go, or come to mean another.
struct DiskEvent {
    enum class What { write, truncate, sync, create, remove, sync_folder } what = What::write;
    std::size_t file = 0;     ///< of write, truncate, sync, create
    std::uint64_t place = 0;  ///< of write: where; of truncate: the new size
    std::string bytes = {};   ///< of write
    std::string name = {};    ///< of create, remove: full path
};

class RecordedDisk {
  public:
    RecordedDisk();
    ~RecordedDisk() {
        sqlite3_vfs_unregister(&layer_->vfs);
        sqlite3_vfs_register(layer_->system, 1);
    }
    RecordedDisk(const RecordedDisk&) = delete;
    RecordedDisk& operator=(const RecordedDisk&) = delete;

    [[nodiscard]] const std::vector<DiskEvent>& events() const { return layer_->events; }

    struct Layer {
        sqlite3_vfs vfs{};  ///< pAppData is this Layer
        sqlite3_vfs* system = nullptr;
        std::vector<DiskEvent> events;
        std::map<std::string, std::size_t> names;
        std::size_t files = 0;
    };

  private:
    std::unique_ptr<Layer> layer_ = std::make_unique<Layer>();
};

namespace file_layer {

using Layer = RecordedDisk::Layer;
using What = DiskEvent::What;

/// What SQLite holds of an open file; that of the system follows it in memory.
struct OpenFile {
    sqlite3_file base;
    Layer* layer;
    std::size_t number;
    bool seen;  ///< false for files without a name, and those that were there before
    /// The system's layer syncs the folder of a new journal or log with its first sync.
    bool syncs_folder;
};

inline OpenFile& open_file(sqlite3_file* file) {
    return *reinterpret_cast<OpenFile*>(file);
}
inline sqlite3_file* below(sqlite3_file* file) {
    return reinterpret_cast<sqlite3_file*>(reinterpret_cast<char*>(file) + sizeof(OpenFile));
}

inline int write(sqlite3_file* file, const void* bytes, int count, sqlite3_int64 place) {
    const int code = below(file)->pMethods->xWrite(below(file), bytes, count, place);
    const OpenFile& of = open_file(file);
    if (code == SQLITE_OK && of.seen)
        of.layer->events.push_back(
            {What::write, of.number, static_cast<std::uint64_t>(place),
             std::string(static_cast<const char*>(bytes), static_cast<std::size_t>(count))});
    return code;
}

inline int truncate(sqlite3_file* file, sqlite3_int64 size) {
    const int code = below(file)->pMethods->xTruncate(below(file), size);
    const OpenFile& of = open_file(file);
    if (code == SQLITE_OK && of.seen)
        of.layer->events.push_back({What::truncate, of.number, static_cast<std::uint64_t>(size)});
    return code;
}

/// Only remembered: no test waits for a real disk.
inline int sync(sqlite3_file* file, int) {
    OpenFile& of = open_file(file);
    if (!of.seen) return SQLITE_OK;
    of.layer->events.push_back({What::sync, of.number});
    if (of.syncs_folder) of.layer->events.push_back({What::sync_folder});
    of.syncs_folder = false;
    return SQLITE_OK;
}

// What passes on unseen.
inline int close(sqlite3_file* file) {
    return below(file)->pMethods->xClose(below(file));
}
inline int read(sqlite3_file* file, void* into, int count, sqlite3_int64 place) {
    return below(file)->pMethods->xRead(below(file), into, count, place);
}
inline int file_size(sqlite3_file* file, sqlite3_int64* size) {
    return below(file)->pMethods->xFileSize(below(file), size);
}
inline int lock(sqlite3_file* file, int kind) {
    return below(file)->pMethods->xLock(below(file), kind);
}
inline int unlock(sqlite3_file* file, int kind) {
    return below(file)->pMethods->xUnlock(below(file), kind);
}
inline int check_lock(sqlite3_file* file, int* held) {
    return below(file)->pMethods->xCheckReservedLock(below(file), held);
}
inline int file_control(sqlite3_file* file, int what, void* with) {
    // Growing in larger steps than asked for would be growth that nobody sees.
    if (what == SQLITE_FCNTL_CHUNK_SIZE) return SQLITE_OK;
    return below(file)->pMethods->xFileControl(below(file), what, with);
}
inline int sector_size(sqlite3_file* file) {
    return below(file)->pMethods->xSectorSize(below(file));
}
inline int characteristics(sqlite3_file* file) {
    return below(file)->pMethods->xDeviceCharacteristics(below(file));
}
inline int shm_map(sqlite3_file* file, int page, int size, int extend, void volatile** at) {
    return below(file)->pMethods->xShmMap(below(file), page, size, extend, at);
}
inline int shm_lock(sqlite3_file* file, int offset, int count, int flags) {
    return below(file)->pMethods->xShmLock(below(file), offset, count, flags);
}
inline void shm_barrier(sqlite3_file* file) {
    below(file)->pMethods->xShmBarrier(below(file));
}
inline int shm_unmap(sqlite3_file* file, int remove) {
    return below(file)->pMethods->xShmUnmap(below(file), remove);
}

// Version 2: without the calls of version 3 SQLite maps no file into memory, where writes would not be seen.
inline constexpr sqlite3_io_methods methods{
    2,         close,      read,         write,       truncate,        sync,    file_size, lock,
    unlock,    check_lock, file_control, sector_size, characteristics, shm_map, shm_lock,  shm_barrier,
    shm_unmap, nullptr,    nullptr};

inline Layer& layer_of(sqlite3_vfs* vfs) {
    return *static_cast<Layer*>(vfs->pAppData);
}

inline int open(sqlite3_vfs* vfs, const char* name, sqlite3_file* file, int flags, int* given) {
    Layer& layer = layer_of(vfs);
    int exists = 0;
    if (name) layer.system->xAccess(layer.system, name, SQLITE_ACCESS_EXISTS, &exists);
    file->pMethods = nullptr;
    const int code = layer.system->xOpen(layer.system, name, below(file), flags, given);
    if (code != SQLITE_OK) return code;
    OpenFile& of = open_file(file);
    of.layer = &layer;

    of.syncs_folder = (flags & SQLITE_OPEN_CREATE) != 0 &&
                      (flags & (SQLITE_OPEN_SUPER_JOURNAL | SQLITE_OPEN_MAIN_JOURNAL | SQLITE_OPEN_WAL)) != 0;
    if (name && exists == 0) {
        layer.names[name] = ++layer.files;
        layer.events.push_back({What::create, layer.files, 0, {}, name});
    }
    const auto known = name ? layer.names.find(name) : layer.names.end();
    of.seen = known != layer.names.end();
    of.number = of.seen ? known->second : 0;
    file->pMethods = &methods;
    return code;
}

inline int remove(sqlite3_vfs* vfs, const char* name, int and_sync) {
    Layer& layer = layer_of(vfs);
    const int code = layer.system->xDelete(layer.system, name, 0);
    if (code != SQLITE_OK) return code;
    layer.names.erase(name);
    layer.events.push_back({What::remove, 0, 0, {}, name});
    if (and_sync != 0) layer.events.push_back({What::sync_folder});
    return code;
}

}  // namespace file_layer

inline RecordedDisk::RecordedDisk() {
    layer_->system = sqlite3_vfs_find(nullptr);
    // All else is the system's, which finds what it needs in its own pAppData: these calls do not.
    layer_->vfs = *layer_->system;
    layer_->vfs.zName = "recorded disk";
    layer_->vfs.szOsFile = static_cast<int>(sizeof(file_layer::OpenFile)) + layer_->system->szOsFile;
    layer_->vfs.pAppData = layer_.get();
    layer_->vfs.pNext = nullptr;
    layer_->vfs.xOpen = file_layer::open;
    layer_->vfs.xDelete = file_layer::remove;
    if (sqlite3_vfs_register(&layer_->vfs, 1) != SQLITE_OK) throw std::runtime_error("no file layer");
}

}  // namespace ebbtide::testing_support
