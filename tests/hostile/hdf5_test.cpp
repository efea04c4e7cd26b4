// HDF5 files that were damaged, cut or made to harm: the library fails on some of them, this program on none,
// and no sample that it hands out is wrong.

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <sys/mman.h>
#include <unistd.h>

#include <cmath>
#include <cstdlib>
#include <map>
#include <random>

#include "recording/hdf5_files.hpp"
#include "recording/hdf5_reader.hpp"
#include "recording/source_apart.hpp"

namespace ebbtide::recording {

using namespace testing_support;

namespace {

constexpr int samples = 5'000;

std::string recorded() {
    std::string csv = "t [s],U [V],clamp [V]\n";
    for (int i = 0; i < samples; ++i)
        csv += fmt::format("{:.4f},{:.3f},{}\n", i * 0.0005 + (i > 3'000 ? 1e-4 : 0),
                           5000 * std::exp(-i / 900.), i % 3);
    return csv;
}

/// As open_hdf5() does it, but with little patience.
Reading read_apart(const std::string& bytes) {
    const int file = ::memfd_create("hostile", MFD_CLOEXEC);
    EXPECT_EQ(::write(file, bytes.data(), bytes.size()), static_cast<ssize_t>(bytes.size()));
    const Bounds bounds{std::uint64_t{1} << 30, std::chrono::seconds(1)};
    Reading reading = read_all(
        open_apart([&] { return hdf5::open_here(file, "hostile.h5", {}); }, file, "hostile.h5", bounds));
    ::close(file);
    return reading;
}

/// One to eight changes, half of them among the structures at the beginning; sometimes a cut.
std::string damaged(std::string bytes, std::mt19937& random) {
    for (unsigned left = 1 + random() % 8; left > 0; --left) {
        const std::size_t most =
            random() % 2 == 0 ? std::min<std::size_t>(bytes.size(), 4'096) : bytes.size();
        char& byte = bytes[random() % most];
        switch (random() % 3) {
            case 0:
                byte = static_cast<char>(0xFF);
                break;
            case 1:
                byte = static_cast<char>(byte ^ 1 << random() % 8);
                break;
            default:
                byte = static_cast<char>(random());
        }
    }
    if (random() % 10 == 0) bytes.resize(random() % bytes.size());
    return bytes;
}

int trials() {
#if defined(__SANITIZE_ADDRESS__)
    return 100;  // a process each, which sanitizers make dear; what fails there is the library, not ours
#else
    return std::getenv("EBBTIDE_LONG") != nullptr ? 5'000 : 1'000;
#endif
}

std::map<std::string, int> outcomes_of(const std::string& whole, unsigned seed) {
    std::mt19937 random(seed);
    std::map<std::string, int> outcomes;
    for (int i = 0; i < trials(); ++i) {
        const Reading reading = read_apart(damaged(whole, random));
        ++outcomes[reading.error ? reading.error->what.substr(0, 24) : "read"];
        if (!reading.error) continue;
        EXPECT_EQ(reading.error->code, Fault::bad_input) << reading.error->text();
        EXPECT_NE(reading.error->where.find("hostile.h5"), std::string::npos) << reading.error->where;
        EXPECT_FALSE(reading.error->remedy.empty());
    }
    for (const auto& [what, count] : outcomes) std::printf("    %6d %s\n", count, what.c_str());
    return outcomes;
}

std::string of_another_program(bool newest, hsize_t chunk, hid_t type) {
    std::vector<double> time_s, voltage_V;
    for (int i = 0; i < samples; ++i) {
        time_s.push_back(i * 0.001);
        voltage_V.push_back(5000 - i);
    }
    return OtherHdf5(newest)
        .group("/run")
        .numbers("/run/time", time_s, "s", H5T_IEEE_F64LE, chunk)
        .numbers("/run/voltage", voltage_V, "V", type, chunk)
        .attribute("/run", "gain", 2)
        .bytes();
}

}  // namespace

TEST(HostileHdf5, OfOurLayoutNeverGivesAWrongSample) {
    const std::string whole = converted(recorded());
    const Reading truth = read_apart(whole);
    ASSERT_FALSE(truth.error) << truth.error->text();
    ASSERT_EQ(truth.specimen().value.size(), static_cast<std::size_t>(samples));
    std::mt19937 random(11);
    int refused = 0;
    for (int i = 0; i < trials(); ++i) {
        const Reading reading = read_apart(damaged(whole, random));
        refused += reading.error ? 1 : 0;
        for (const Segment& segment : reading.segments)
            for (std::size_t c = 0; c < segment.channels.size(); ++c) {
                const auto& is = segment.channels[c];
                const auto& was = truth.segments[0].channels.at(c);
                ASSERT_LE(is.value.size(), was.value.size());
                ASSERT_TRUE(std::equal(is.value.begin(), is.value.end(), was.value.begin())) << "trial " << i;
                ASSERT_TRUE(std::equal(is.time_s.begin(), is.time_s.end(), was.time_s.begin()))
                    << "trial " << i;
            }
    }
    EXPECT_GT(refused, trials() / 2);
}
TEST(HostileHdf5, OfOurLayoutCutAnywhereIsRefused) {
    const std::string whole = converted(recorded());
    std::mt19937 random(12);
    for (int i = 0; i < trials() / 10; ++i) {
        const Reading reading = read_apart(whole.substr(0, random() % whole.size()));
        ASSERT_TRUE(reading.error);
    }
}
TEST(HostileHdf5, OfOldStructuresIsReadOrRefused) {
    EXPECT_GT(outcomes_of(of_another_program(false, 0, H5T_STD_I16BE), 13)["read"], 0);
}
TEST(HostileHdf5, OfOldStructuresInChunksIsReadOrRefused) {
    EXPECT_GT(outcomes_of(of_another_program(false, 512, H5T_STD_I16BE), 14)["read"], 0);
}
TEST(HostileHdf5, OfNewStructuresInChunksIsReadOrRefused) {
    EXPECT_GT(outcomes_of(of_another_program(true, 512, H5T_IEEE_F32LE), 15)["read"], 0);
}
TEST(HostileHdf5, OfNothingButASignIsRefused) {
    for (const std::size_t size : {8, 9, 96, 512, 5'000}) {
        std::string bytes = "\x89HDF\r\n\x1A\n";
        bytes.resize(size);
        EXPECT_TRUE(read_all(open_bytes(bytes, "hostile.h5", {})).error) << size;
    }
}

}  // namespace ebbtide::recording
