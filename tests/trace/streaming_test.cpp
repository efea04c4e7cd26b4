// A stream is cut as it comes: in blocks of any size, with constant state, in any unit.

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <vector>

#include "trace/bench_stream.hpp"
#include "trace/cutter.hpp"

namespace ebbtide::trace {
namespace {

using testing_support::BenchStream;
using testing_support::noise;
using testing_support::sum;

struct Recorded {
    std::vector<double> drive_V, specimen_V;  // no specimen: the drive is the specimen
};

std::vector<RunSpan> cut_in_blocks(const Recorded& recorded, const std::vector<std::size_t>& sizes) {
    RunCutter cutter;
    std::vector<RunSpan> found;
    const std::span<const double> drive(recorded.drive_V), specimen(recorded.specimen_V);
    for (std::size_t at = 0, block = 0; at < drive.size(); ++block) {
        const std::size_t length = std::min(sizes[block % sizes.size()], drive.size() - at);
        cutter.add(drive.subspan(at, length), specimen.empty() ? specimen : specimen.subspan(at, length),
                   found);
        at += length;
    }
    cutter.finish(found);
    return found;
}

void expect_same_places(const std::vector<RunSpan>& a, const std::vector<RunSpan>& b,
                        std::uint64_t shift = 0) {
    RC_ASSERT(a.size() == b.size());
    for (std::size_t i = 0; i < a.size(); ++i) {
        RC_ASSERT(a[i].charge_start + shift == b[i].charge_start);
        RC_ASSERT(a[i].last_high + shift == b[i].last_high);
        RC_ASSERT(a[i].first_low + shift == b[i].first_low);
        RC_ASSERT(a[i].end + shift == b[i].end);
        RC_ASSERT(a[i].starts_charged == b[i].starts_charged);
    }
}

/// A morning at the bench: some runs of any height, polarity, hold and decay, with or without an electrode,
/// starting anywhere, in any noise.
rc::Gen<Recorded> any_recording() {
    return rc::gen::exec([] {
        const bool by_electrode = *rc::gen::arbitrary<bool>();
        const double noise_V = 5 * *rc::gen::inRange(0, 60);
        const double correlation = *rc::gen::element(0.0, 5.0, 200.0);
        BenchStream drive(*rc::gen::inRange(-100, 100)), specimen;
        if (*rc::gen::inRange(0, 4) == 0) {  // starts charged
            drive.level(5000, static_cast<std::size_t>(*rc::gen::inRange(1, 300)));
            specimen.level(4000, drive.samples_V.size());
            drive.fall(50, 1000);
            specimen.fall(50, 1000);
        }
        for (int i = *rc::gen::inRange(0, 5); i > 0; --i) {
            const auto rest = static_cast<std::size_t>(*rc::gen::inRange(0, 2000));
            const auto rise = static_cast<std::size_t>(*rc::gen::inRange(1, 100));
            const auto hold = static_cast<std::size_t>(*rc::gen::inRange(0, 3000));
            const auto fall = static_cast<std::size_t>(*rc::gen::inRange(10, 4000));
            const double scale = *rc::gen::inRange(2, 800);
            const double volts = 1000 * *rc::gen::element(-5, 5, 5, 1);
            drive.rest(rest).ramp(volts, rise).hold(hold).fall(by_electrode ? 3 : scale, fall);
            specimen.rest(rest).ramp(0.9 * volts, rise).hold(hold).fall(scale, fall);
        }
        drive.rest(static_cast<std::size_t>(*rc::gen::inRange(0, 5000)));
        specimen.rest(drive.samples_V.size() - specimen.samples_V.size());
        const auto seed = *rc::gen::arbitrary<std::uint64_t>();
        const std::size_t n = drive.samples_V.size();
        Recorded out{sum(drive.samples_V, noise(n, noise_V, correlation, seed)), {}};
        if (by_electrode) out.specimen_V = sum(specimen.samples_V, noise(n, noise_V, correlation, seed + 1));
        return out;
    });
}

RC_GTEST_PROP(Cuts, AreTheSameForBlocksOfAnySize, ()) {
    const Recorded recorded = *any_recording();
    const auto whole = cut_in_blocks(recorded, {1'000'000});
    const auto any_sizes = *rc::gen::nonEmpty(
        rc::gen::container<std::vector<std::size_t>>(rc::gen::inRange<std::size_t>(1, 3000)));
    for (const std::vector<std::size_t>& sizes : {std::vector<std::size_t>{1}, {7}, {1024}, any_sizes}) {
        const auto cut = cut_in_blocks(recorded, sizes);
        expect_same_places(whole, cut);
        for (std::size_t i = 0; i < cut.size(); ++i) {
            RC_ASSERT(whole[i].first == cut[i].first);
            RC_ASSERT(whole[i].base == cut[i].base);
            RC_ASSERT(whole[i].sign == cut[i].sign);
            RC_ASSERT(whole[i].height == cut[i].height);
        }
    }
}

RC_GTEST_PROP(Cuts, DoNotDependOnTheUnitOrThePolarity, ()) {
    const Recorded recorded = *any_recording();
    const double factor = *rc::gen::element(1e-6, 0.00321, 0.7, 17.3, 4.2e8) * *rc::gen::element(1, -1);
    Recorded scaled = recorded;
    for (double& v : scaled.drive_V) v *= factor;
    for (double& v : scaled.specimen_V) v *= factor;
    const auto before = cut_in_blocks(recorded, {1024}), after = cut_in_blocks(scaled, {1024});
    expect_same_places(before, after);
    for (std::size_t i = 0; i < before.size(); ++i) {
        const double size = std::abs(factor) * before[i].height;
        RC_ASSERT(std::abs(after[i].height - size) <= 1e-9 * size);
        RC_ASSERT(std::abs(after[i].base - factor * before[i].base) <= 1e-9 * size);
        RC_ASSERT(after[i].sign == (factor > 0 ? before[i].sign : -before[i].sign));
    }
}

RC_GTEST_PROP(Cuts, MoveWithTheStartOfTheRecording, ()) {
    BenchStream stream;
    const auto rest = static_cast<std::size_t>(*rc::gen::inRange(100, 2000));
    stream.rest(rest).ramp(5000, 20).hold(800).fall(100, 2500).run(-5000, 500, 100);
    BenchStream later;
    const auto more = static_cast<std::size_t>(*rc::gen::inRange(0, 200000));
    later.rest(more);
    later.samples_V.insert(later.samples_V.end(), stream.samples_V.begin(), stream.samples_V.end());
    const auto before = cut_in_blocks({stream.samples_V, {}}, {1024});
    RC_ASSERT(before.size() == 2u);
    expect_same_places(before, cut_in_blocks({later.samples_V, {}}, {1024}), more);
}

RC_GTEST_PROP(Cuts, AreInOrder, ()) {
    const Recorded recorded = *any_recording();
    std::uint64_t before = 0;
    for (const RunSpan& run : cut_in_blocks(recorded, {1024})) {
        RC_ASSERT(run.first <= run.charge_start);
        RC_ASSERT(run.charge_start <= run.last_high);
        RC_ASSERT(run.last_high <= run.first_low);
        RC_ASSERT(run.first_low <= run.end);
        RC_ASSERT(run.end <= recorded.drive_V.size());
        RC_ASSERT(run.charge_start >= before);
        before = run.first_low;
        RC_ASSERT(run.height > 0);
        RC_ASSERT(run.sign == 1 || run.sign == -1);
    }
}

RC_GTEST_PROP(Cuts, NeverReachBackBeforeTheOldestNeededSample, ()) {
    const Recorded recorded = *any_recording();
    RunCutter cutter;
    std::vector<RunSpan> found;
    std::uint64_t oldest = 0;
    for (std::size_t at = 0; at < recorded.drive_V.size(); at += 64) {
        const std::size_t length = std::min<std::size_t>(64, recorded.drive_V.size() - at);
        const std::span<const double> specimen(recorded.specimen_V);
        found.clear();
        cutter.add(std::span(recorded.drive_V).subspan(at, length),
                   specimen.empty() ? specimen : specimen.subspan(at, length), found);
        for (const RunSpan& run : found) RC_ASSERT(run.first >= oldest);
        RC_ASSERT(cutter.oldest_needed() >= oldest);
        oldest = cutter.oldest_needed();
    }
    found.clear();
    cutter.finish(found);
    for (const RunSpan& run : found) RC_ASSERT(run.first >= oldest);
}

TEST(Stream, OfADayNeedsNoMoreMemoryThanOneOfAMinute) {
    static_assert(sizeof(RunCutter) < 1024);
    RunCutter cutter;
    std::vector<RunSpan> found;
    std::uint64_t fed = 0;
    for (std::uint64_t block = 0; block < 2000; ++block) {
        const auto samples = noise(1024, 5, block % 2 == 0 ? 0 : 30, block);
        cutter.add(samples, found);
        fed += samples.size();
        EXPECT_LE(fed - cutter.oldest_needed(), (1u << 18) + 2u);
    }
    EXPECT_TRUE(found.empty());
}

TEST(Stream, OfManyRunsNeedsNoMoreThanTheLongest) {
    RunCutter cutter;
    std::vector<RunSpan> found;
    std::uint64_t fed = 0;
    for (int i = 0; i < 500; ++i) {
        BenchStream stream;
        stream.run(i % 3 == 0 ? -5000 : 5000, 500, 100);
        cutter.add(stream.samples_V, found);
        fed += stream.size();
        EXPECT_LE(fed - cutter.oldest_needed(), 2 * stream.size());
    }
    cutter.finish(found);
    EXPECT_EQ(found.size(), 500u);
}

TEST(Cutter, StartsAfreshAfterASegmentHasEnded) {
    const Recorded one{BenchStream().level(5000, 700).fall(100, 1000).run(-5000, 500, 100).samples_V, {}};
    const auto expected = cut_in_blocks(one, {1024});
    ASSERT_EQ(expected.size(), 2u);
    RunCutter cutter;
    std::vector<RunSpan> found;
    cutter.add(BenchStream().run(300, 500, 20).samples_V, found);
    cutter.finish(found);
    EXPECT_EQ(cutter.oldest_needed(), 0u);
    found.clear();
    cutter.add(one.drive_V, found);
    cutter.finish(found);
    ASSERT_EQ(found.size(), 2u);
    for (std::size_t i = 0; i < 2; ++i) {
        EXPECT_EQ(found[i].first, expected[i].first);
        EXPECT_EQ(found[i].charge_start, expected[i].charge_start);
        EXPECT_EQ(found[i].end, expected[i].end);
        EXPECT_EQ(found[i].starts_charged, expected[i].starts_charged);
    }
}

}  // namespace
}  // namespace ebbtide::trace
