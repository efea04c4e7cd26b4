#pragma once
// HDF5 files as tests need them: of our layout by our writer, of others as other programs write them.

#include <gtest/gtest.h>
#include <hdf5.h>

#include <string>
#include <vector>

#include "recording/hdf5_writer.hpp"
#include "recording/reading.hpp"
#include "support/program.hpp"

namespace ebbtide::recording::testing_support {

using ebbtide::testing_support::bytes_of;
using ebbtide::testing_support::TemporaryFolder;

/// A recording out of memory, block by block as given.
struct Blocks {
    Description about;
    std::vector<Block> blocks;
    Original original;
};

inline std::string as_hdf5(const Blocks& recording) {
    const TemporaryFolder folder;
    const std::string path = folder / "out.h5";
    Hdf5Writer writer(path);
    EXPECT_TRUE(writer.describe(recording.about).ok());
    for (const Block& block : recording.blocks) EXPECT_TRUE(writer.block(block).ok());
    const auto done = writer.finish(recording.original);
    EXPECT_TRUE(done.ok()) << (done.ok() ? "" : done.error().text());
    return bytes_of(path);
}

/// Reads `bytes` and writes what was read as HDF5.
inline std::string converted(const std::string& bytes, const ReadOptions& options = {}) {
    auto source = open_bytes(bytes, "original", options);
    EXPECT_TRUE(source.ok()) << (source.ok() ? "" : source.error().text());
    Blocks recording;
    recording.about = (*source)->description();
    for (Block block; (*source)->next(block).value();) recording.blocks.push_back(block);
    recording.original = {(*source)->sha256(), (*source)->bytes(), (*source)->description().metadata};
    return as_hdf5(recording);
}

/// A file in the making as another program would make it: old structures, plain datasets.
class OtherHdf5 {
  public:
    explicit OtherHdf5(bool newest = false) : newest_(newest) {
        const hid_t access = H5Pcreate(H5P_FILE_ACCESS);
        if (newest) H5Pset_libver_bounds(access, H5F_LIBVER_LATEST, H5F_LIBVER_LATEST);
        file_ = H5Fcreate(path().c_str(), H5F_ACC_TRUNC, H5P_DEFAULT, access);
        H5Pclose(access);
    }
    ~OtherHdf5() {
        if (file_ >= 0) H5Fclose(file_);
    }
    OtherHdf5(const OtherHdf5&) = delete;
    OtherHdf5& operator=(const OtherHdf5&) = delete;

    OtherHdf5& group(const std::string& name) {
        H5Gclose(H5Gcreate2(file_, name.c_str(), H5P_DEFAULT, H5P_DEFAULT, H5P_DEFAULT));
        return *this;
    }
    OtherHdf5& numbers(const std::string& name, const std::vector<double>& values,
                       const std::string& units = "", hid_t type = H5T_IEEE_F64LE, hsize_t chunk = 0) {
        return matrix(name, values, {values.size()}, units, type, chunk);
    }
    OtherHdf5& matrix(const std::string& name, const std::vector<double>& values,
                      const std::vector<hsize_t>& sizes, const std::string& units = "",
                      hid_t type = H5T_IEEE_F64LE, hsize_t chunk = 0) {
        const hid_t space = H5Screate_simple(static_cast<int>(sizes.size()), sizes.data(), nullptr);
        const hid_t creation = H5Pcreate(H5P_DATASET_CREATE);
        if (chunk > 0) {
            H5Pset_chunk(creation, 1, &chunk);
            H5Pset_deflate(creation, 6);
        }
        const hid_t set = H5Dcreate2(file_, name.c_str(), type, space, H5P_DEFAULT, creation, H5P_DEFAULT);
        if (!values.empty()) H5Dwrite(set, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, values.data());
        if (!units.empty()) text(set, "units", units);
        H5Dclose(set);
        H5Pclose(creation);
        H5Sclose(space);
        return *this;
    }
    OtherHdf5& attribute(const std::string& object, const std::string& name, double value) {
        const hid_t at = H5Oopen(file_, object.c_str(), H5P_DEFAULT), space = H5Screate(H5S_SCALAR);
        const hid_t made = H5Acreate2(at, name.c_str(), H5T_IEEE_F64LE, space, H5P_DEFAULT, H5P_DEFAULT);
        H5Awrite(made, H5T_NATIVE_DOUBLE, &value);
        H5Aclose(made);
        H5Sclose(space);
        H5Oclose(at);
        return *this;
    }
    [[nodiscard]] hid_t id() const { return file_; }
    [[nodiscard]] std::string bytes() {
        H5Fclose(file_);
        file_ = -1;
        return bytes_of(path());
    }

  private:
    [[nodiscard]] std::string path() const { return folder_ / "other.h5"; }
    static void text(hid_t object, const char* name, const std::string& value) {
        const hid_t type = H5Tcopy(H5T_C_S1), space = H5Screate(H5S_SCALAR);
        H5Tset_size(type, H5T_VARIABLE);
        const hid_t at = H5Acreate2(object, name, type, space, H5P_DEFAULT, H5P_DEFAULT);
        const char* pointer = value.c_str();
        H5Awrite(at, type, &pointer);
        H5Aclose(at);
        H5Sclose(space);
        H5Tclose(type);
    }

    TemporaryFolder folder_;
    bool newest_;
    hid_t file_ = -1;
};

}  // namespace ebbtide::recording::testing_support
