// Sound files as recordings: values and times to the last bit, and every fault by name.

#include "recording/sound.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>
#include <sndfile.h>
#include <sys/stat.h>

#include <cmath>
#include <limits>
#include <thread>

#include "basis/sha256.hpp"
#include "recording/reading.hpp"
#include "recording/wave_bytes.hpp"
#include "recording/whole_file.hpp"
#include "support/program.hpp"

namespace ebbtide::recording {

using testing_support::of_floats;
using testing_support::read;
using testing_support::read_all;
using testing_support::Reading;
using testing_support::Wave;
using Kind = trace::Notice::Kind;
using Numbers = std::vector<double>;

namespace {

void expect_refused(const Reading& reading, const std::string& part) {
    ASSERT_TRUE(reading.error) << part;
    EXPECT_EQ(reading.error->code, Fault::bad_input);
    EXPECT_NE(reading.error->text().find(part), std::string::npos) << reading.error->text();
    EXPECT_NE(reading.error->where.find("trace.csv"), std::string::npos);
    EXPECT_FALSE(reading.error->remedy.empty());
}

/// The same samples as the library writes them in one of its formats.
std::string written(const Numbers& values, int format, int channels = 1, int rate = 44'100) {
    const ebbtide::testing_support::TemporaryFolder folder;
    const std::string path = folder / "sound";
    SF_INFO info{};
    info.format = format;
    info.channels = channels;
    info.samplerate = rate;
    SNDFILE* file = sf_open(path.c_str(), SFM_WRITE, &info);
    EXPECT_NE(file, nullptr) << sf_strerror(nullptr);
    sf_set_string(file, SF_STR_TITLE, "specimen W1, dry");
    sf_write_double(file, values.data(), static_cast<sf_count_t>(values.size()));
    sf_close(file);
    return ebbtide::testing_support::bytes_of(path);
}

}  // namespace

TEST(Sound, ReadsIntegersAsFractionsOfFullScale) {
    const Reading r = read(Wave{}.add16(0).add16(16'384).add16(-8'192).add16(1).bytes());
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.description.format, "sound");
    EXPECT_EQ(r.specimen().value, (Numbers{0, 0.5, -0.25, 1.0 / 32'768}));
    EXPECT_NE(r.description.dialect.find("16-bit integers read as fractions of full scale"),
              std::string::npos)
        << r.description.dialect;
    EXPECT_TRUE(r.notices.empty());
}
TEST(Sound, CountsTimeByOneDivisionFromTheIndex) {
    Wave wave;
    for (int i = 0; i < 100'000; ++i) wave.add16(i % 1000);
    const Reading r = read(wave.bytes());
    ASSERT_FALSE(r.error);
    ASSERT_EQ(r.specimen().time_s.size(), 100'000u);
    for (std::size_t i = 0; i < 100'000; ++i)
        ASSERT_EQ(r.specimen().time_s[i], static_cast<double>(i) / 44'100.0) << i;
    EXPECT_NE(r.description.dialect.find("44100 samples a second"), std::string::npos);
}
TEST(Sound, TakesAStatedSampleIntervalInstead) {
    ReadOptions options;
    options.sample_interval_s = 0.25;
    const Reading r = read(Wave{}.add16(1).add16(2).add16(3).bytes(), options);
    ASSERT_FALSE(r.error);
    EXPECT_EQ(r.specimen().time_s, (Numbers{0, 0.25, 0.5}));
}
TEST(Sound, ReadsFloatsAsTheyAreBeyondOneToo) {
    const Reading r = read(of_floats({0.1F, -5'000.5F, 1e-30F, 1.0F}).bytes());
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.specimen().value, (Numbers{0.1F, -5'000.5, 1e-30F, 1}));
    EXPECT_EQ(r.count(Kind::clipped), 0u) << "a float has no full scale";
}
RC_GTEST_PROP(Sound, KeepsEveryBitOfADouble, ()) {
    const auto values = *rc::gen::nonEmpty<Numbers>();
    Wave wave;
    wave.bits = 64;
    wave.floats = true;
    for (const double value : values) wave.add64(value);
    const Reading r = read(wave.bytes());
    RC_ASSERT(!r.error);
    RC_ASSERT(r.specimen().value == values);
}
RC_GTEST_PROP(Sound, ReadsEveryChannelOfEveryIntegerWidth, ()) {
    const int bits = 8 * *rc::gen::inRange(1, 5);
    const auto channels = *rc::gen::inRange<std::size_t>(1, 6);
    const auto frames = *rc::gen::inRange<std::size_t>(1, 10'000);
    const auto seed = *rc::gen::arbitrary<std::uint32_t>();
    Wave wave;
    wave.bits = static_cast<std::uint16_t>(bits);
    wave.channels = static_cast<std::uint16_t>(channels);
    std::vector<Numbers> expected(channels);
    std::uint64_t state = seed;
    for (std::size_t i = 0; i < frames * channels; ++i) {
        state = state * 6'364'136'223'846'793'005u + 1;
        const std::int64_t half = std::int64_t{1} << (bits - 1);
        const std::int64_t code = static_cast<std::int64_t>(state >> 20) % (2 * half) - half;
        // Integers of one byte are written from 0, the others with a sign.
        wave.data +=
            testing_support::little(static_cast<std::uint64_t>(bits == 8 ? code + half : code), bits / 8);
        expected[i % channels].push_back(static_cast<double>(code) / static_cast<double>(half));
    }
    ReadOptions options;
    options.specimen = std::to_string(channels);
    const Reading r = read(wave.bytes(), options);
    RC_ASSERT(!r.error);
    for (std::size_t c = 0; c < channels; ++c)
        RC_ASSERT(r.segments.at(0).channels.at(c).value == expected[c]);
    RC_ASSERT(&r.specimen() == &r.segments[0].channels[channels - 1]);
}
TEST(Sound, ReadsItsOtherContainersAlike) {
    const Numbers values{0, 0.5, -0.25, 0.125};
    for (const auto& [format, name] : {std::pair{SF_FORMAT_WAV, "WAV"},
                                       {SF_FORMAT_RF64, "RF64"},
                                       {SF_FORMAT_W64, "W64"},
                                       {SF_FORMAT_AIFF, "AIFF"}}) {
        const std::string bytes = written(values, format | SF_FORMAT_PCM_24);
        const Reading r = read(bytes);
        ASSERT_FALSE(r.error) << name << r.error->text();
        EXPECT_EQ(r.specimen().value, values) << name;
        EXPECT_TRUE(r.description.dialect.starts_with(name)) << r.description.dialect;
        EXPECT_TRUE(r.notices.empty()) << name << r.notices[0].text;
        EXPECT_EQ(r.sha256, sha256_hex(bytes)) << name;
    }
}
TEST(Sound, KeepsItsTexts) {
    const Reading r = read(written({0, 0.5}, SF_FORMAT_WAV | SF_FORMAT_PCM_16));
    ASSERT_FALSE(r.error);
    ASSERT_FALSE(r.description.metadata.empty());
    EXPECT_EQ(r.description.metadata[0], (std::pair<std::string, std::string>{"title", "specimen W1, dry"}));
}
TEST(Sound, NumbersItsChannels) {
    const std::string stereo = [] {
        Wave wave;
        wave.channels = 2;
        return wave.add16(1).add16(100).add16(2).add16(200).bytes();
    }();
    expect_refused(read(stereo), "2 channels may be the specimen voltage, and nothing tells which");
    ReadOptions options;
    options.specimen = "1";
    options.electrode = "2";
    const Reading r = read(stereo, options);
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.specimen().value, (Numbers{1.0 / 32'768, 2.0 / 32'768}));
    EXPECT_EQ(r.only(trace::Quantity::electrode_voltage).value, (Numbers{100.0 / 32'768, 200.0 / 32'768}));
    EXPECT_EQ(r.description.channels[1].heading, "channel 2");
    options.specimen = "3";
    expect_refused(read(stereo, options), "--specimen 3 names no channel of numbers");
    options = {};
    options.time = "1";
    expect_refused(read(stereo, options), "no channel of a sound file holds the time");
}
TEST(Sound, NotesFullScaleOfIntegersAsClippedWithTheTimeBefore) {
    for (const int full : {32'767, -32'767, -32'768}) {
        const Reading r = read(Wave{}.add16(5).add16(6).add16(full).add16(full).add16(6).bytes());
        ASSERT_EQ(r.count(Kind::clipped), 2u) << full;
        EXPECT_EQ(r.first(Kind::clipped).time_s, 1 / 44'100.0);
        EXPECT_EQ(r.first(Kind::clipped).column, 1);
        EXPECT_NE(r.first(Kind::clipped).text.find("sample 3"), std::string::npos)
            << r.first(Kind::clipped).text;
    }
    EXPECT_EQ(read(Wave{}.add16(32'766).add16(-32'766).bytes()).count(Kind::clipped), 0u);
}
TEST(Sound, LeavesOutSamplesThatAreNoNumbersAndSaysWhich) {
    const float nan = std::numeric_limits<float>::quiet_NaN(), inf = std::numeric_limits<float>::infinity();
    const Reading r = read(of_floats({nan, 1, 2, -inf, 4}).bytes());
    ASSERT_FALSE(r.error);
    EXPECT_EQ(r.specimen().value, (Numbers{1, 2, 4}));
    EXPECT_EQ(r.specimen().time_s, (Numbers{1 / 44'100.0, 2 / 44'100.0, 4 / 44'100.0}));
    EXPECT_EQ(r.count(Kind::value_missing), 2u);
    EXPECT_NE(r.first(Kind::value_missing).text.find("sample 1 is not a number"), std::string::npos);
}
TEST(Sound, ReadsWhatIsThereOfAFileCutShort) {
    Wave wave;
    for (int i = 0; i < 10'000; ++i) wave.add16(i);
    const std::string whole = wave.bytes();
    for (const std::size_t cut : {std::size_t{1}, std::size_t{2}, std::size_t{9'999}}) {
        const Reading r = read(whole.substr(0, whole.size() - cut));
        ASSERT_FALSE(r.error) << r.error->text();
        ASSERT_EQ(r.specimen().value.size(), 10'000 - (cut + 1) / 2) << cut;
        EXPECT_EQ(r.specimen().value.back(), static_cast<double>(9'999 - (cut + 1) / 2) / 32'768);
        ASSERT_EQ(r.notices.size(), 1u);
        EXPECT_NE(r.notices[0].text.find(std::to_string(cut) + " bytes before the end"), std::string::npos)
            << r.notices[0].text;
        EXPECT_EQ(r.notices[0].time_s, r.specimen().time_s.back());
    }
}
TEST(Sound, ReadsAFileThatItsRecorderNeverClosed) {
    Wave wave;
    for (int i = 0; i < 100; ++i) wave.add16(i);
    // Recorders leave nothing, the length of the header alone, or all bits set where the length belongs.
    for (const std::uint64_t length : {0u, 36u, 0xFFFFFFFFu}) {
        std::string bytes = wave.bytes();
        bytes.replace(4, 4, testing_support::little(length, 4));
        bytes.replace(bytes.find("data") + 4, 4, testing_support::little(length == 36 ? 0 : length, 4));
        const Reading r = read(bytes);
        ASSERT_FALSE(r.error) << length << r.error->text();
        EXPECT_EQ(r.specimen().value.size(), 100u) << length;
        ASSERT_EQ(r.notices.size(), 1u) << length;
        EXPECT_NE(r.notices[0].text.find("did not close it"), std::string::npos);
        EXPECT_EQ(r.sha256, sha256_hex(bytes));
    }
}
TEST(Sound, ComesThroughAPipeWithinABound) {
    const ebbtide::testing_support::TemporaryFolder folder;
    const std::string path = folder / "pipe";
    ASSERT_EQ(::mkfifo(path.c_str(), 0600), 0);
    Wave wave;
    for (int i = 0; i < 100'000; ++i) wave.add16(i % 5'000);
    const std::string bytes = wave.bytes();
    const auto send = [&] { ebbtide::testing_support::write_bytes(path, bytes); };
    std::thread first(send);
    const Reading r = read_all(open(path, {}));
    first.join();
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.specimen().value.size(), 100'000u);
    EXPECT_EQ(r.sha256, sha256_hex(bytes));
    // More than may be held is refused, with what to do.
    const auto held = WholeFile::of(Bytes::of(bytes, "pipe", false), 1'000);
    ASSERT_FALSE(held.ok());
    EXPECT_NE(held.error().text().find("more than 1000 bytes"), std::string::npos) << held.error().text();
    EXPECT_EQ(held.error().remedy, "Save it to a file first");
}
TEST(Sound, RefusesWhatHoldsNoSample) {
    expect_refused(read(Wave{}.bytes()), "without a sample");
    expect_refused(read(Wave{}.add16(1).bytes().substr(0, 20)), "cannot be read");
    for (const char* stub : {"RIFF\x10", "RIFF", "RF64", "RF64\xFF\xFFWAVE", "FORM", "riff\x2E\x91\xCF\x11"})
        EXPECT_TRUE(read(stub).error) << stub;
}
TEST(Sound, RefusesCompressionWithLoss) {
    for (const int coding : {SF_FORMAT_ULAW, SF_FORMAT_ALAW, SF_FORMAT_IMA_ADPCM, SF_FORMAT_MS_ADPCM})
        expect_refused(read(written(Numbers(5'000, 0.25), SF_FORMAT_WAV | coding)), "compressed with loss");
}

}  // namespace ebbtide::recording
