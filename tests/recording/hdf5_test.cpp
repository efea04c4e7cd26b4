// HDF5 as recordings: what goes in comes out to the last bit, other tools see it, and files of others are
// read as text is.

#include "recording/hdf5_reader.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>
#include <sys/resource.h>
#include <sys/wait.h>

#include <cmath>
#include <limits>

#include "basis/sha256.hpp"
#include "recording/hdf5_files.hpp"
#include "recording/natural_order.hpp"
#include "recording/source_apart.hpp"
#include "recording/wave_bytes.hpp"

namespace ebbtide::recording {

using namespace testing_support;
using Kind = trace::Notice::Kind;
using NumbersRead = std::vector<double>;

namespace {

const std::string text = "t [ms],U [kV],clamp [V]\n0,5,4990\n20,4.5,4980\n40,nan,4970\n60,3.5,0\n80,3.25,1\n";

void expect_refused(const Reading& reading, const std::string& part) {
    ASSERT_TRUE(reading.error) << part;
    EXPECT_EQ(reading.error->code, Fault::bad_input);
    EXPECT_NE(reading.error->text().find(part), std::string::npos) << reading.error->text();
    EXPECT_NE(reading.error->where.find("trace.csv"), std::string::npos) << reading.error->where;
    EXPECT_FALSE(reading.error->remedy.empty());
}

void expect_same(const Reading& a, const Reading& b) {
    ASSERT_FALSE(a.error) << a.error->text();
    ASSERT_FALSE(b.error) << b.error->text();
    ASSERT_EQ(a.segments.size(), b.segments.size());
    for (std::size_t s = 0; s < a.segments.size(); ++s)
        for (std::size_t c = 0; c < a.segments[s].channels.size(); ++c) {
            EXPECT_EQ(a.segments[s].channels[c].time_s, b.segments[s].channels[c].time_s);
            EXPECT_EQ(a.segments[s].channels[c].value, b.segments[s].channels[c].value);
        }
    ASSERT_EQ(a.notices.size(), b.notices.size());
    for (std::size_t i = 0; i < a.notices.size(); ++i) {
        EXPECT_EQ(a.notices[i].kind, b.notices[i].kind);
        EXPECT_EQ(a.notices[i].text, b.notices[i].text);
        EXPECT_EQ(a.notices[i].line, b.notices[i].line);
        EXPECT_EQ(a.notices[i].column, b.notices[i].column);
        EXPECT_EQ(a.notices[i].time_s, b.notices[i].time_s);
    }
}

std::string dumped(const std::string& bytes, const std::string& what) {
    const TemporaryFolder folder;
    const std::string path = folder / "file.h5", out = folder / "out";
    ebbtide::testing_support::write_bytes(path, bytes);
    const std::string command = "h5dump -y -w 0 -m %.17g " + what + " " + path + " > " + out + " 2>&1";
    EXPECT_EQ(std::system(command.c_str()), 0) << bytes_of(out);
    // One blank wherever lines are broken.
    std::istringstream words(bytes_of(out));
    std::string line;
    for (std::string word; words >> word;) line += (line.empty() ? "" : " ") + word;
    return line;
}

NumbersRead counted(std::size_t count, double first, double step) {
    NumbersRead out;
    for (std::size_t i = 0; i < count; ++i) out.push_back(first + step * static_cast<double>(i));
    return out;
}

}  // namespace

TEST(Hdf5, GivesBackWhatTheOriginalHeld) {
    const Reading original = read(text), back = read(converted(text));
    expect_same(original, back);
    EXPECT_EQ(back.description.format, "HDF5");
    EXPECT_NE(back.description.dialect.find("ebbtide.hdf5/1, made from delimited text"), std::string::npos);
    ASSERT_EQ(back.description.channels.size(), 2u);
    EXPECT_EQ(back.description.channels[0].heading, "U [kV]");
    EXPECT_EQ(back.description.channels[0].unit, "kV");
    EXPECT_EQ(back.description.channels[0].factor_to_SI, 1000);
    EXPECT_EQ(back.description.channels[0].column, 2);
    EXPECT_EQ(back.count(Kind::value_missing), 1u);
}
TEST(Hdf5, IsSeenByOtherTools) {
    // h5dump of the HDF Group's own tools reads it without knowing our layout.
    const std::string file = converted(text);
    const std::string values = dumped(file, "-d /segments/000001/channel_1/value");
    EXPECT_NE(values.find("5000, 4500, 3500, 3250"), std::string::npos) << values;
    EXPECT_NE(dumped(file, "-a /schema").find("\"ebbtide.hdf5/1\""), std::string::npos);
    EXPECT_NE(dumped(file, "-a /recording").find(sha256_hex(text)), std::string::npos);
    EXPECT_NE(dumped(file, "-a /segments/000001/channel_1/heading").find("\"U [kV]\""), std::string::npos);
    EXPECT_NE(dumped(file, "-a /segments/000001/channel_1/value/units").find("\"V\""), std::string::npos);
    EXPECT_NE(dumped(file, "-d /segments/000001/notices").find("the cell holds 'nan'"), std::string::npos);
    // The second channel lacks no sample: its times are even and take no dataset.
    EXPECT_NE(dumped(file, "-a /segments/000001/channel_2/step_s").find("0.02"), std::string::npos);
}
TEST(Hdf5, SumsEveryDatasetItWrites) {
    const std::string properties = dumped(converted(text), "-p -H");
    std::size_t datasets = 0, sums = 0;
    for (std::size_t at = 0; (at = properties.find("DATASET", at)) != std::string::npos; ++at) ++datasets;
    for (std::size_t at = 0; (at = properties.find("FLETCHER32", at)) != std::string::npos; ++at) ++sums;
    EXPECT_GE(datasets, 3u);
    EXPECT_EQ(datasets, sums);
}
TEST(Hdf5, MakesTheSameBytesTwice) {
    EXPECT_EQ(converted(text), converted(text));
}
TEST(Hdf5, GivesTimesThatAreEvenWithoutListingThem) {
    // 44.1 kHz and decimal steps from any start come back to the last bit out of three integers.
    Wave wave;
    for (int i = 0; i < 50'000; ++i) wave.add16(i % 3000);
    std::string decimal = "t [s],U [V]\n";
    for (int i = 0; i < 50'000; ++i)
        decimal += fmt::format("{}.{:04},{}\n", 12 + i / 10'000, i % 10'000, i % 7);
    for (const std::string& bytes : {wave.bytes(), decimal}) {
        const std::string file = converted(bytes);
        expect_same(read(bytes), read(file));
        EXPECT_LT(file.size(), 130'000u);
        EXPECT_EQ(dumped(file, "-n").find("/time"), std::string::npos);
    }
}
TEST(Hdf5, ListsTimesFromTheStartWhenTheyTurnUneven) {
    std::string uneven = "t [s],U [V]\n";
    for (int i = 0; i < 40'000; ++i) uneven += fmt::format("{}.{:03},{}\n", i / 1000, i % 1000, i % 5);
    uneven += "40.0005,1\n40.002,2\n";
    const std::string file = converted(uneven);
    expect_same(read(uneven), read(file));
    EXPECT_NE(dumped(file, "-n").find("/segments/000001/channel_1/time"), std::string::npos);
}

namespace {

double any_double() {
    const double value = *rc::gen::arbitrary<double>();
    return std::isfinite(value) ? value : 0;
}

/// Channels that need not have the same samples or times, as a reader may hand them out.
Blocks any_recording() {
    Blocks out;
    out.about.file = "bench.csv";
    out.about.format = "delimited text";
    out.about.origin =
        Instant{*rc::gen::inRange<std::int64_t>(0, std::int64_t{1} << 60) / 1'000'000 * 1'000'000};
    const auto channels = *rc::gen::inRange<std::size_t>(1, 4);
    for (std::size_t c = 0; c < channels; ++c)
        out.about.channels.push_back({fmt::format("U{} é", c), "mV", 0.001,
                                      c == 0 ? trace::Quantity::specimen_voltage : trace::Quantity::other,
                                      static_cast<int>(c) + 1});
    out.original.metadata = {{"Model", "µ"}, {"", "a line"}};
    const auto blocks = *rc::gen::inRange<std::size_t>(1, 6);
    NumbersRead last_s(channels, 0);
    for (std::size_t b = 0; b < blocks; ++b) {
        Block block;
        block.starts_segment = b == 0 || *rc::gen::inRange(0, 3) == 0;
        if (block.starts_segment) last_s.assign(channels, any_double() > 0 ? 0.25 : -3);
        for (std::size_t c = 0; c < channels; ++c) {
            ChannelBlock samples;
            for (int left = *rc::gen::inRange(0, 40); left > 0; --left) {
                last_s[c] += *rc::gen::element(0.001, 0.001, 0.001, 0.25, 0.0, 1e-9);
                samples.time_s.push_back(last_s[c]);
                samples.value.push_back(any_double());
            }
            block.channels.push_back(std::move(samples));
        }
        if (*rc::gen::arbitrary<bool>())
            block.notices.push_back({Kind::value_missing, 7, 2, 3, last_s[0], "the cell holds 'é'"});
        out.blocks.push_back(std::move(block));
    }
    return out;
}

}  // namespace

RC_GTEST_PROP(Hdf5, KeepsAnyRecordingToTheLastBit, ()) {
    const Blocks recording = any_recording();
    const Reading back = read(as_hdf5(recording));
    RC_ASSERT(!back.error);
    RC_ASSERT(back.description.origin == recording.about.origin);
    RC_ASSERT(back.description.metadata == recording.original.metadata);
    std::vector<Segment> segments;
    std::size_t notices = 0;
    for (const Block& block : recording.blocks) {
        if (block.starts_segment) segments.emplace_back().channels.resize(block.channels.size());
        for (std::size_t c = 0; c < block.channels.size(); ++c) {
            auto& to = segments.back().channels[c];
            to.time_s.insert(to.time_s.end(), block.channels[c].time_s.begin(),
                             block.channels[c].time_s.end());
            to.value.insert(to.value.end(), block.channels[c].value.begin(), block.channels[c].value.end());
        }
        notices += block.notices.size();
    }
    RC_ASSERT(back.segments.size() == segments.size());
    for (std::size_t s = 0; s < segments.size(); ++s)
        for (std::size_t c = 0; c < segments[s].channels.size(); ++c) {
            RC_ASSERT(back.segments[s].channels[c].time_s == segments[s].channels[c].time_s);
            RC_ASSERT(back.segments[s].channels[c].value == segments[s].channels[c].value);
        }
    RC_ASSERT(back.notices.size() == notices);
}

TEST(Hdf5, HandsChannelsOutInPace) {
    // One channel is sampled a hundred times as often as the other: neither runs ahead of the other's time.
    Blocks recording;
    recording.about.format = "x";
    recording.about.channels = {{"fast", "V", 1, trace::Quantity::specimen_voltage, 1},
                                {"slow", "%", 1, trace::Quantity::relative_humidity, 2}};
    Block block;
    block.starts_segment = true;
    block.channels = {{counted(200'000, 0, 0.001), NumbersRead(200'000, 1)},
                      {counted(2'000, 0, 0.1), NumbersRead(2'000, 12)}};
    recording.blocks = {block};
    auto source = open_bytes(as_hdf5(recording), "trace.csv", {});
    ASSERT_TRUE(source.ok()) << source.error().text();
    double fast_s = -1, slow_s = -1;
    Block got;
    while ((*source)->next(got).value()) {
        if (!got.channels[0].time_s.empty()) fast_s = got.channels[0].time_s.back();
        if (!got.channels[1].time_s.empty()) slow_s = got.channels[1].time_s.back();
        EXPECT_LE(std::abs(fast_s - slow_s), 0.2);
        EXPECT_LE(got.channels[0].value.size(), 8'192u);
    }
    EXPECT_GT(fast_s, 199.9);
}
TEST(Hdf5, TakesOptionsThatNameItsChannels) {
    ReadOptions options;
    options.specimen = "clamp";
    const Reading r = read(converted(text), options);
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.specimen().value.front(), 4990);
    options.specimen = "7";
    expect_refused(read(converted(text), options), "7");
}
TEST(Hdf5, RefusesANewerLayout) {
    OtherHdf5 other;
    const hid_t type = H5Tcopy(H5T_C_S1), space = H5Screate(H5S_SCALAR);
    H5Tset_size(type, 14);
    const hid_t at = H5Acreate2(other.id(), "schema", type, space, H5P_DEFAULT, H5P_DEFAULT);
    H5Awrite(at, type, "ebbtide.hdf5/2");
    H5Aclose(at);
    expect_refused(read(other.bytes()), "its layout is ebbtide.hdf5/2");
}

// ---- files of others ----

TEST(OtherHdf5Files, AreReadByTheNamesOfTheirDatasets) {
    const Reading r = read(OtherHdf5()
                               .group("/run")
                               .numbers("/run/time", {0, 20, 40}, "ms")
                               .numbers("/run/sensor_V", {5, 4, 3})
                               .numbers("/run/electrode_V", {5, 5, 0}, "", H5T_STD_I16BE)
                               .numbers("/run/calibration", {1, 2})
                               .bytes());
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.specimen().time_s, (NumbersRead{0, 0.02, 0.04}));
    EXPECT_EQ(r.specimen().value, (NumbersRead{5, 4, 3}));
    EXPECT_EQ(r.only(trace::Quantity::electrode_voltage).value, (NumbersRead{5, 5, 0}));
    EXPECT_NE(r.description.dialect.find("group /run"), std::string::npos) << r.description.dialect;
}
TEST(OtherHdf5Files, MayStateTheIntervalAsAnAttribute) {
    const std::string bytes =
        OtherHdf5().numbers("/U", {5, 4, 3}, "kV").attribute("/U", "sample_interval", 0.5).bytes();
    const Reading r = read(bytes);
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.specimen().time_s, (NumbersRead{0, 0.5, 1}));
    EXPECT_EQ(r.specimen().value, (NumbersRead{5000, 4000, 3000}));
    EXPECT_EQ(read(OtherHdf5().numbers("/U", {5, 4, 3}, "kV").attribute("/", "Sampling rate", 4).bytes())
                  .specimen()
                  .time_s,
              (NumbersRead{0, 0.25, 0.5}));
    ReadOptions options;
    options.sample_interval_s = 2;
    EXPECT_EQ(read(bytes, options).specimen().time_s, (NumbersRead{0, 2, 4}));
    expect_refused(read(OtherHdf5().numbers("/U", {5, 4, 3}, "kV").bytes()), "no dataset holds the time");
}
TEST(OtherHdf5Files, MayHoldARowOrAColumnOfAMatrix) {
    const Reading r =
        read(OtherHdf5().matrix("/t", {0, 1, 2}, {1, 3}, "s").matrix("/U", {5, 4, 3}, {3, 1}, "V").bytes());
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.specimen().value, (NumbersRead{5, 4, 3}));
}
TEST(OtherHdf5Files, WithGroupsAlikeAreSegmentsInTheOrderOfCounting) {
    OtherHdf5 other;
    for (const int run : {10, 9, 1}) {
        const std::string group = "/run" + std::to_string(run);
        other.group(group).numbers(group + "/t", {0, 1, 2}, "s").numbers(group + "/U", {run * 1., 2, 3}, "V");
    }
    const Reading r = read(other.bytes());
    ASSERT_FALSE(r.error) << r.error->text();
    ASSERT_EQ(r.segments.size(), 3u);
    EXPECT_EQ(r.specimen(0).value.front(), 1);
    EXPECT_EQ(r.specimen(1).value.front(), 9);
    EXPECT_EQ(r.specimen(2).value.front(), 10);
}
TEST(OtherHdf5Files, WithGroupsUnlikeAskWhichIsMeant) {
    const std::string bytes = OtherHdf5()
                                  .group("/a")
                                  .numbers("/a/t", {0, 1, 2}, "s")
                                  .numbers("/a/U", {5, 4, 3}, "V")
                                  .group("/b")
                                  .numbers("/b/t", {0, 1, 2}, "s")
                                  .numbers("/b/sensor", {7, 6, 5}, "V")
                                  .bytes();
    expect_refused(read(bytes), "/a (U, t) and /b (sensor, t)");
    ReadOptions options;
    options.specimen = "/b/sensor";
    EXPECT_EQ(read(bytes, options).specimen().value, (NumbersRead{7, 6, 5}));
}
TEST(OtherHdf5Files, ListWhatWasSeenWhenNothingTells) {
    expect_refused(read(OtherHdf5()
                            .numbers("/t", {0, 1, 2}, "s")
                            .numbers("/a", {5, 4, 3}, "V")
                            .numbers("/b", {5, 4, 3}, "V")
                            .bytes()),
                   "2 datasets may be the specimen voltage, and nothing tells which. Seen: dataset 1 'a' (V, "
                   "begins 5 4 3)");
    expect_refused(read(OtherHdf5().matrix("/image", NumbersRead(6, 1), {2, 3}).bytes()),
                   "/image (2-D, 2 x 3)");
    expect_refused(read(OtherHdf5().bytes()), "Seen: nothing");
}
TEST(OtherHdf5Files, TellWhatTheirTimeAndValuesDo) {
    const double nan = std::numeric_limits<double>::quiet_NaN();
    const Reading r = read(OtherHdf5()
                               .numbers("/t", {0, 1, 2, 3, 3, 4, 40, 41, 0, 1, 2}, "s")
                               .numbers("/U", {9, 8, nan, 6, 5, 4, 3, 2, 9, 8, 7}, "V")
                               .bytes());
    ASSERT_FALSE(r.error) << r.error->text();
    ASSERT_EQ(r.segments.size(), 2u);
    EXPECT_EQ(r.specimen(0).value, (NumbersRead{9, 8, 6, 5, 4, 3, 2}));
    EXPECT_EQ(r.specimen(1).value, (NumbersRead{9, 8, 7}));
    EXPECT_EQ(r.count(Kind::value_missing), 1u);
    EXPECT_EQ(r.count(Kind::time_repeated), 1u);
    EXPECT_EQ(r.count(Kind::time_gap), 1u);
    EXPECT_EQ(r.first(Kind::time_gap).time_s, 4);
}
TEST(OtherHdf5Files, DoNotLeadOutOfThemselves) {
    OtherHdf5 other;
    other.numbers("/t", {0, 1, 2}, "s");
    H5Lcreate_soft("/t", other.id(), "/U", H5P_DEFAULT, H5P_DEFAULT);
    H5Lcreate_external("/etc/passwd", "/", other.id(), "/V", H5P_DEFAULT, H5P_DEFAULT);
    const hsize_t size = 16;
    const hid_t space = H5Screate_simple(1, &size, nullptr), creation = H5Pcreate(H5P_DATASET_CREATE);
    H5Pset_external(creation, "/etc/passwd", 0, 16);
    H5Dclose(H5Dcreate2(other.id(), "/W", H5T_STD_U8LE, space, H5P_DEFAULT, creation, H5P_DEFAULT));
    expect_refused(read(other.bytes()), "no dataset looks like a voltage");
}
TEST(OtherHdf5Files, ThatClaimMoreThanTheyHoldAreRefused) {
    OtherHdf5 other;
    const hsize_t size = hsize_t{1} << 60, chunk = 1'000;
    const hid_t space = H5Screate_simple(1, &size, nullptr), creation = H5Pcreate(H5P_DATASET_CREATE);
    H5Pset_chunk(creation, 1, &chunk);
    for (const char* name : {"/t", "/U"})
        H5Dclose(H5Dcreate2(other.id(), name, H5T_IEEE_F64LE, space, H5P_DEFAULT, creation, H5P_DEFAULT));
    expect_refused(read(other.bytes()), "more than its 0 bytes can hold");
}
TEST(OtherHdf5Files, BehindABlockOfAnotherProgramAreFound) {
    EXPECT_TRUE(looks_like_hdf5(std::string(512, ' ') + "\x89HDF\r\n\x1A\n"));
    EXPECT_FALSE(looks_like_hdf5("\x89HDG\r\n\x1A\n"));
}

// ---- writing ----

TEST(Hdf5Writer, TellsWhereItCannotWrite) {
    const TemporaryFolder folder;
    for (const std::string& path : {folder / "missing/out.h5", std::string("/dev/full/out.h5")}) {
        Hdf5Writer writer(path);
        Description about;
        about.channels.resize(1);
        const auto done = writer.describe(about);
        ASSERT_FALSE(done.ok());
        EXPECT_EQ(done.error().where, path);
    }
}
TEST(Hdf5Writer, TellsOfADiskThatIsFull) {
    // In a process of its own: a limit of file size stands for the full disk.
    const TemporaryFolder folder;
    const std::string path = folder / "out.h5";
    const pid_t child = ::fork();
    ASSERT_GE(child, 0);
    if (child == 0) {
        ::signal(SIGXFSZ, SIG_IGN);
        const rlimit small{100'000, 100'000};
        ::setrlimit(RLIMIT_FSIZE, &small);
        Blocks recording;
        recording.about.channels.resize(1);
        Block block;
        block.starts_segment = true;
        block.channels.resize(1);
        std::uint64_t state = 1;
        for (int i = 0; i < 100'000; ++i) {
            state = state * 6'364'136'223'846'793'005u + 1;
            block.channels[0].time_s.push_back(i);
            block.channels[0].value.push_back(static_cast<double>(state >> 11));
        }
        bool told = false;
        {
            Hdf5Writer writer(path);
            bool whole = writer.describe(recording.about).ok();
            for (int i = 0; i < 3 && whole; ++i, block.starts_segment = true)
                whole = writer.block(block).ok();
            told = !whole || !writer.finish({}).ok();
        }
        ::_exit(told ? 0 : 1);
    }
    int status = 0;
    ASSERT_EQ(::waitpid(child, &status, 0), child);
    EXPECT_TRUE(WIFEXITED(status) && WEXITSTATUS(status) == 0) << status;
}

// ---- the process apart ----

namespace {

class Failing final : public Source {
  public:
    explicit Failing(std::function<void()> act) : act_(std::move(act)) { about_.channels.resize(1); }
    const Description& description() const override { return about_; }
    std::string sha256() override { return {}; }
    std::uint64_t bytes() const override { return 0; }
    Result<bool> next(Block& block) override {
        block = {};
        block.starts_segment = true;
        block.channels.resize(1);
        block.channels[0] = {{0, 1}, {5, 4}};
        if (++blocks_ == 3) act_();
        return blocks_ < 4;
    }

  private:
    std::function<void()> act_;
    Description about_;
    int blocks_ = 0;
};

Reading read_failing(std::function<void()> act) {
    const Bounds bounds{std::uint64_t{1} << 28, std::chrono::seconds(1)};
    return read_all(open_apart(
        [&]() -> Result<std::unique_ptr<Source>> {
            return std::unique_ptr<Source>(std::make_unique<Failing>(act));
        },
        0, "trace.csv", bounds));
}

}  // namespace

TEST(SourceApart, HandsOnWhatItReads) {
    const Reading r = read_failing([] {});
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.segments.size(), 3u);
}
TEST(SourceApart, TurnsACrashIntoAnErrorThatNamesTheFile) {
    expect_refused(read_failing([] { ::raise(SIGSEGV); }), "makes its reader fail");
    expect_refused(read_failing([] { std::abort(); }), "makes its reader fail");
    expect_refused(read_failing([] { ::_exit(0); }), "makes its reader fail");
}
TEST(SourceApart, EndsALoopWithoutEnd) {
    expect_refused(read_failing([] {
                       for (std::uint64_t i = 0; ::getppid() != 0;) ++i;
                   }),
                   "takes longer than 1 s");
}
TEST(SourceApart, EndsAWaitWithoutEnd) {
    expect_refused(read_failing([] { ::pause(); }), "takes longer than 1 s");
}
#if !defined(__SANITIZE_ADDRESS__)
TEST(SourceApart, BoundsItsMemory) {
    expect_refused(
        read_failing([] { static_cast<void>(std::vector<char>(std::size_t{1} << 30, 'x').size()); }),
        "more than 268435456 bytes of memory");
}
#endif
TEST(SourceApart, LeavesNoProcessBehindWhenItIsNotReadToItsEnd) {
    for (int i = 0; i < 20; ++i) {
        auto source = open_bytes(converted(text), "trace.csv", {});
        ASSERT_TRUE(source.ok());
    }
    EXPECT_EQ(::waitpid(-1, nullptr, WNOHANG), -1) << "no child is left";
}

// ---- counting order ----

TEST(NaturalOrder, CountsInsteadOfSpelling) {
    EXPECT_TRUE(natural_less("run2", "run10"));
    EXPECT_FALSE(natural_less("run10", "run2"));
    EXPECT_TRUE(natural_less("run1", "run1a"));
    EXPECT_TRUE(natural_less("a2b10", "a2b11"));
    EXPECT_TRUE(natural_less("1", "01"));
    EXPECT_TRUE(natural_less("x18446744073709551616", "x18446744073709551617"));
}
RC_GTEST_PROP(NaturalOrder, IsAStrictOrder, ()) {
    const auto name = [] {
        return *rc::gen::container<std::string>(rc::gen::elementOf(std::string("ab019.")));
    };
    const std::string a = name(), b = name(), c = name();
    RC_ASSERT(!natural_less(a, a));
    RC_ASSERT(natural_less(a, b) + natural_less(b, a) == (a != b ? 1 : 0));
    RC_ASSERT(!(natural_less(a, b) && natural_less(b, c)) || natural_less(a, c));
}

}  // namespace ebbtide::recording
