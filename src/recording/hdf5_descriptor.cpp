#include "recording/hdf5_descriptor.hpp"

#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <memory>

namespace ebbtide::recording::hdf5 {

namespace {

/// What the library sees as an open file: its own part first, as it casts one to the other.
struct OpenFile {
    H5FD_t library{};
    int descriptor = -1;
    haddr_t size = 0, allocated = 0;
};

OpenFile& ours(H5FD_t* file) {
    return *reinterpret_cast<OpenFile*>(file);
}
const OpenFile& ours(const H5FD_t* file) {
    return *reinterpret_cast<const OpenFile*>(file);
}

/// The name is the number of the descriptor.
H5FD_t* open(const char* name, unsigned, hid_t, haddr_t) {
    auto file = std::make_unique<OpenFile>();
    file->descriptor = std::atoi(name);
    struct stat about {};
    if (::fstat(file->descriptor, &about) != 0) return nullptr;
    file->size = static_cast<haddr_t>(about.st_size);
    return &file.release()->library;
}

herr_t close(H5FD_t* file) {
    delete &ours(file);
    return 0;
}

herr_t read(H5FD_t* file, H5FD_mem_t type, hid_t, haddr_t at, std::size_t size, void* into) {
    auto* to = static_cast<char*>(into);
    while (size > 0) {
        const ssize_t got = ::pread(ours(file).descriptor, to, size, static_cast<off_t>(at));
        if (got < 0 && errno == EINTR) continue;
        if (got < 0) return -1;
        if (got == 0) {
            // The library may look a little beyond the end for structures; samples must be there.
            if (type == H5FD_MEM_DRAW) return -1;
            std::memset(to, 0, size);
            return 0;
        }
        at += static_cast<haddr_t>(got);
        to += got;
        size -= static_cast<std::size_t>(got);
    }
    return 0;
}

haddr_t allocated(const H5FD_t* file, H5FD_mem_t) {
    return ours(file).allocated;
}
herr_t allocate(H5FD_t* file, H5FD_mem_t, haddr_t size) {
    ours(file).allocated = size;
    return 0;
}
haddr_t size_of(const H5FD_t* file, H5FD_mem_t) {
    return ours(file).size;
}
herr_t refuse_write(H5FD_t*, H5FD_mem_t, hid_t, haddr_t, std::size_t, const void*) {
    return -1;
}

const H5FD_class_t driver = [] {
    H5FD_class_t out{};
    out.name = "descriptor";
    out.maxaddr = (haddr_t{1} << 63) - 1;
    out.fc_degree = H5F_CLOSE_STRONG;
    out.open = open;
    out.close = close;
    out.get_eoa = allocated;
    out.set_eoa = allocate;
    out.get_eof = size_of;
    out.read = read;
    out.write = refuse_write;
    const H5FD_mem_t kinds[] = H5FD_FLMAP_DICHOTOMY;
    std::memcpy(out.fl_map, kinds, sizeof kinds);
    return out;
}();

}  // namespace

Handle open_descriptor(int descriptor) {
    const Handle access(H5Pcreate(H5P_FILE_ACCESS), H5Pclose);
    const Handle registered(H5FDregister(&driver), H5FDunregister);
    if (!access || !registered || H5Pset_driver(access.id(), registered.id(), nullptr) < 0) return {};
    return {H5Fopen(fmt::format("{}", descriptor).c_str(), H5F_ACC_RDONLY, access.id()), H5Fclose};
}

}  // namespace ebbtide::recording::hdf5
