// What is a run: charge, hold, release and decay, as a bench delivers them.

#include "trace/cutter.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <vector>

#include "trace/bench_stream.hpp"

namespace ebbtide::trace {
namespace {

using testing_support::BenchStream;
using testing_support::cut;
using testing_support::noise;
using testing_support::sum;

TEST(Run, IsZeroChargeHoldReleaseAndDecay) {
    BenchStream stream;
    stream.rest(1000).ramp(5000, 50).hold(2000);
    const std::uint64_t charge = 1000, release = stream.size();
    stream.fall(300, 3000);
    const auto runs = cut(stream);
    ASSERT_EQ(runs.size(), 1u);
    const RunSpan& run = runs[0];
    EXPECT_EQ(run.first, 0u);
    EXPECT_LE(run.charge_start, charge + 2);
    EXPECT_GE(run.charge_start, charge - 2);
    EXPECT_GE(run.last_high, release - 1);
    EXPECT_LE(run.last_high, release + 40);  // a tenth of the way down: 0.105 time constants
    EXPECT_GE(run.first_low, release + 200);
    EXPECT_LE(run.first_low, release + 215);  // ln 2 time constants
    EXPECT_FALSE(run.starts_charged);
    EXPECT_EQ(run.base, 0);
    EXPECT_EQ(run.sign, 1);
    EXPECT_EQ(run.height, 5000);
}

TEST(Run, WhoseChargeRisesWithinOneSampleIsFoundAsSoonAsItsTailHasCome) {
    BenchStream stream;
    stream.rest(1000).level(5000, 2000).fall(300, 30'000);
    const std::vector<double> samples = sum(stream.samples_V, noise(stream.size(), 5.0, 0, 7));
    std::vector<RunSpan> found;
    RunCutter cutter;
    cutter.add(samples, found);
    EXPECT_EQ(found.size(), 1u);
}

TEST(Run, MayBeNegative) {
    const auto runs = cut(BenchStream().run(-5000, 2000, 300));
    ASSERT_EQ(runs.size(), 1u);
    EXPECT_EQ(runs[0].sign, -1);
    EXPECT_EQ(runs[0].height, 5000);
}

TEST(Run, MayStandOnAnOffset) {
    for (const double offset : {-120.0, 120.0}) {
        const auto runs = cut(BenchStream(offset).run(5000, 2000, 300));
        ASSERT_EQ(runs.size(), 1u);
        EXPECT_EQ(runs[0].first, 0u);
        EXPECT_NEAR(static_cast<double>(runs[0].charge_start), 400, 2);
        EXPECT_FALSE(runs[0].starts_charged);
        EXPECT_NEAR(runs[0].base, offset, 1e-9);
        EXPECT_NEAR(runs[0].height, 5000, 1e-9);
    }
}

TEST(Run, MayBeShortInSamples) {
    // Three samples of rest, charge and hold; the electrode falls within one.
    BenchStream stream;
    stream.rest(3).level(5000, 14).level(0, 50).level(-5000, 15).level(0, 50);
    const auto runs = cut(stream);
    ASSERT_EQ(runs.size(), 2u);
    EXPECT_EQ(runs[0].charge_start, 3u);
    EXPECT_FALSE(runs[0].starts_charged);
    EXPECT_EQ(runs[0].last_high, 16u);
    EXPECT_EQ(runs[1].sign, -1);
}

TEST(Run, MayBeginAndFallWithinTheFirstSamples) {
    const auto runs = cut(BenchStream().rest(8).ramp(620, 6).hold(6).fall(20, 110));
    ASSERT_EQ(runs.size(), 1u);
    EXPECT_FALSE(runs[0].starts_charged);
    EXPECT_NEAR(static_cast<double>(runs[0].charge_start), 8, 1);
    EXPECT_NEAR(static_cast<double>(runs[0].last_high), 21, 2);
}

TEST(Run, MayHoldForMomentsOrForHours) {
    for (const std::size_t hold : {3u, 30u, 3000u, 3000000u}) {
        const auto runs = cut(BenchStream().run(5000, hold, 300));
        ASSERT_EQ(runs.size(), 1u) << hold;
        EXPECT_NEAR(static_cast<double>(runs[0].last_high), 420.0 + static_cast<double>(hold), 40) << hold;
    }
}

TEST(Run, MayChargeAsSlowlyAsItDecays) {
    BenchStream stream;
    stream.rest(1000).creep(5000, 2000, 12000).fall(2000, 12000);
    const auto runs = cut(stream);
    ASSERT_EQ(runs.size(), 1u);
    EXPECT_LE(runs[0].charge_start, 1002u);
    EXPECT_GE(runs[0].last_high, 13000u);
}

TEST(Run, MayChargeAsSlowlyAsItDecaysUnderNoise) {
    for (std::uint64_t seed = 1; seed <= 20; ++seed) {
        BenchStream stream;
        stream.rest(2000).creep(5000, 2000, 12000).fall(2000, 14000);
        const auto runs = cut(sum(stream.samples_V, noise(stream.samples_V.size(), 50, 100, seed)));
        ASSERT_EQ(runs.size(), 1u) << "seed " << seed;
        EXPECT_GE(runs[0].last_high, 13000u) << "seed " << seed;
    }
}

TEST(Run, MayDecayOnlyALittle) {
    // An insulator that has lost a third when the record ends.
    BenchStream stream;
    stream.rest(1000).ramp(5000, 20).hold(2000).fall(10000, 4000);
    const auto runs = cut(stream);
    ASSERT_EQ(runs.size(), 1u);
    EXPECT_EQ(runs[0].first_low, runs[0].end);
    EXPECT_EQ(runs[0].end, stream.size());
}

TEST(Run, MayDecayBetweenTwoSamples) {
    BenchStream stream;
    stream.rest(100).level(5000, 200).level(0, 400);
    const auto runs = cut(stream);
    ASSERT_EQ(runs.size(), 1u);
    EXPECT_EQ(runs[0].charge_start, 100u);
    EXPECT_EQ(runs[0].last_high, 299u);
    EXPECT_EQ(runs[0].first_low, 300u);
}

TEST(Run, MayStartInTheHold) {
    for (const double volts : {5000.0, -5000.0}) {
        BenchStream stream;
        stream.level(volts, 1500).fall(300, 3000);
        const auto runs = cut(stream);
        ASSERT_EQ(runs.size(), 1u);
        EXPECT_TRUE(runs[0].starts_charged);
        EXPECT_EQ(runs[0].first, 0u);
        EXPECT_EQ(runs[0].sign, volts > 0 ? 1 : -1);
        EXPECT_EQ(runs[0].height, 5000);
        EXPECT_NEAR(static_cast<double>(runs[0].last_high), 1500, 40);
    }
}

TEST(Run, MayStartInTheHoldUnderNoise) {
    for (std::uint64_t seed = 1; seed <= 20; ++seed) {
        BenchStream stream;
        stream.level(-5000, 1500).fall(300, 3000);
        const auto runs = cut(sum(stream.samples_V, noise(stream.samples_V.size(), 50, 0, seed)));
        ASSERT_EQ(runs.size(), 1u) << "seed " << seed;
        EXPECT_TRUE(runs[0].starts_charged) << "seed " << seed;
        EXPECT_EQ(runs[0].sign, -1) << "seed " << seed;
    }
}

TEST(Run, MayStartInAHoldWhoseLastDigitFlickers) {
    for (std::uint64_t seed = 1; seed <= 20; ++seed) {
        BenchStream stream;
        stream.level(-5000, 6000).fall(1000, 9000);
        std::vector<double> samples = sum(stream.samples_V, noise(stream.samples_V.size(), 10, 60, seed));
        for (double& v : samples) v = 50 * std::round(v / 50);
        const auto runs = cut(samples);
        ASSERT_EQ(runs.size(), 1u) << "seed " << seed;
        EXPECT_TRUE(runs[0].starts_charged) << "seed " << seed;
        EXPECT_EQ(runs[0].first, 0u) << "seed " << seed;
        EXPECT_NEAR(static_cast<double>(runs[0].last_high), 6100, 60) << "seed " << seed;
    }
}

TEST(Run, MayStartAtTheRelease) {
    for (const double volts : {5000.0, -5000.0}) {
        BenchStream stream;
        stream.level(volts, 1).fall(300, 3000);
        const auto runs = cut(stream);
        ASSERT_EQ(runs.size(), 1u);
        EXPECT_TRUE(runs[0].starts_charged);
        EXPECT_EQ(runs[0].charge_start, 0u);
        EXPECT_LE(runs[0].last_high, 40u);
        EXPECT_NEAR(static_cast<double>(runs[0].first_low), 208, 3);
    }
}

TEST(Run, StartingAtTheReleaseIsFollowedByWholeOnes) {
    BenchStream stream;
    stream.level(5000, 1).fall(300, 3000).run(-5000, 1000, 300).run(5000, 1000, 300);
    const auto runs = cut(stream);
    ASSERT_EQ(runs.size(), 3u);
    EXPECT_TRUE(runs[0].starts_charged);
    EXPECT_FALSE(runs[1].starts_charged);
    EXPECT_EQ(runs[1].sign, -1);
    EXPECT_EQ(runs[2].sign, 1);
}

TEST(Run, IsNotAChargeAlone) {
    EXPECT_TRUE(cut(BenchStream().rest(1000).ramp(5000, 50).hold(5000)).empty());
    EXPECT_TRUE(cut(BenchStream().rest(1000).creep(5000, 1000, 6000)).empty());
    BenchStream noisy;
    noisy.rest(1000).ramp(5000, 50).hold(5000);
    for (std::uint64_t seed = 1; seed <= 20; ++seed)
        EXPECT_TRUE(cut(sum(noisy.samples_V, noise(noisy.samples_V.size(), 50, 0, seed))).empty())
            << "seed " << seed;
}

TEST(Runs, FollowEachOtherInAlternatingPolarity) {
    BenchStream stream;
    for (int i = 0; i < 40; ++i) stream.run(i % 2 == 0 ? 5000 : -5000, 500, 100);
    const auto runs = cut(stream);
    ASSERT_EQ(runs.size(), 40u);
    for (std::size_t i = 0; i < runs.size(); ++i) {
        EXPECT_EQ(runs[i].sign, i % 2 == 0 ? 1 : -1);
        EXPECT_NEAR(static_cast<double>(runs[i].charge_start), static_cast<double>(i * 1620 + 400), 3);
        EXPECT_NEAR(runs[i].height, 5000, 15);
    }
}

TEST(Runs, FollowEachOtherWithoutRest) {
    // The next charge of either polarity begins while a tenth of the last is still there.
    for (const double turn : {1.0, -1.0}) {
        BenchStream stream;
        stream.rest(400);
        double volts = 5000;
        for (int i = 0; i < 12; ++i) {
            stream.ramp(volts, 20).hold(500).fall(200, 460);
            volts *= turn;
        }
        const auto runs = cut(stream);
        ASSERT_EQ(runs.size(), 12u) << turn;
        for (std::size_t i = 0; i < runs.size(); ++i) {
            EXPECT_NEAR(static_cast<double>(runs[i].last_high), static_cast<double>(400 + i * 980 + 520), 25);
            EXPECT_EQ(runs[i].sign, turn < 0 && i % 2 == 1 ? -1 : 1);
        }
    }
}

TEST(Runs, AreChargedAgainBeforeTheDecayIsHalfDone) {
    BenchStream stream;
    stream.rest(400);
    for (int i = 0; i < 5; ++i) stream.ramp(5000, 20).hold(500).fall(400, 280);  // down to a half
    const auto runs = cut(stream);
    ASSERT_EQ(runs.size(), 5u);
    for (std::size_t i = 0; i + 1 < runs.size(); ++i) EXPECT_LE(runs[i].end, runs[i + 1].last_high);
}

TEST(Runs, MayHaveASecondVoltage) {
    // Linearity is proven at a second voltage: 1 kV among 5 kV, in any order.
    for (const std::vector<double>& volts :
         {std::vector<double>{5000, 1000, 5000}, {1000, 5000, 1000}, {5000, -5000, 1000, -1000}}) {
        BenchStream stream;
        for (const double v : volts) stream.run(v, 800, 200);
        stream.rest(2000);
        const auto samples = sum(stream.samples_V, noise(stream.samples_V.size(), 5, 0, 7));
        const auto runs = cut(samples);
        ASSERT_EQ(runs.size(), volts.size());
        for (std::size_t i = 0; i < runs.size(); ++i)
            EXPECT_NEAR(runs[i].sign * runs[i].height, volts[i], 40);
    }
}

TEST(Runs, EndWhenTheSpecimenHasComeToRest) {
    // A long idle stretch does not belong to the run, but enough of it to see where the voltage went.
    BenchStream stream;
    stream.run(5000, 1000, 100).rest(100000).run(5000, 1000, 100);
    const auto runs = cut(stream);
    ASSERT_EQ(runs.size(), 2u);
    EXPECT_GE(runs[0].end, 1420u + 2000u);
    EXPECT_LE(runs[0].end, 1420u + 10000u);
}

TEST(Run, WithABouncingContactIsOne) {
    // A relay bounces for a thousandth of the hold: the electrode falls, comes back, falls for good.
    BenchStream electrode;
    electrode.rest(1000).ramp(5000, 50).hold(20000);
    for (int bounce = 0; bounce < 3; ++bounce) electrode.level(50, 8).level(4900, 6);
    electrode.fall(5, 20000);
    BenchStream specimen;
    specimen.rest(1000).ramp(4000, 50).hold(20000).fall(2000, 20042);
    const auto runs = cut(electrode.samples_V, specimen.samples_V);
    ASSERT_EQ(runs.size(), 1u);
    EXPECT_NEAR(static_cast<double>(runs[0].first_low), 21050, 60);
}

TEST(Run, IsNotDisturbedBySpikes) {
    BenchStream stream;
    stream.rest(1000).ramp(5000, 50).hold(2000).fall(300, 4000);
    const auto undisturbed = cut(stream);
    std::vector<double> samples = stream.samples_V;
    for (const std::size_t at : {100u, 700u, 1600u, 2500u, 3500u, 6000u})
        samples[at] += at % 200 == 0 ? 20000 : -9000;
    const auto runs = cut(samples);
    ASSERT_EQ(undisturbed.size(), 1u);
    ASSERT_EQ(runs.size(), 1u);
    EXPECT_EQ(runs[0].charge_start, undisturbed[0].charge_start);
    EXPECT_EQ(runs[0].last_high, undisturbed[0].last_high);
    EXPECT_EQ(runs[0].first_low, undisturbed[0].first_low);
    EXPECT_EQ(runs[0].height, undisturbed[0].height);
}

struct Clamped {
    std::vector<double> electrode_V, specimen_V;
};

/// Two charges of the electrode, each followed by an earthed stretch; what the specimen makes of it is
/// `fall`.
Clamped clamped(double specimen_V, double scale, std::size_t earthed) {
    BenchStream electrode, specimen;
    for (int i = 0; i < 2; ++i) {
        electrode.rest(1000).ramp(5000, 20).hold(2000).fall(3, earthed);
        specimen.rest(1000).ramp(specimen_V, 20).hold(2000).fall(scale, earthed);
    }
    return {electrode.samples_V, specimen.samples_V};
}

TEST(RunByElectrode, IsKeptUntilTheLaggingSpecimenIsAtRest) {
    const Clamped bench = clamped(4500, 1000, 30000);
    const auto runs = cut(bench.electrode_V, bench.specimen_V);
    ASSERT_EQ(runs.size(), 2u);
    for (const RunSpan& run : runs) {
        EXPECT_LE(run.first_low - run.last_high, 5u);
        EXPECT_GE(run.end - run.last_high, 5000u);  // a hundredth of its height: 4.6 time constants
    }
}

TEST(RunByElectrode, WithAnInsulatorLastsUntilTheNextCharge) {
    const Clamped bench = clamped(4500, 1e7, 20000);
    const auto runs = cut(bench.electrode_V, bench.specimen_V);
    ASSERT_EQ(runs.size(), 2u);
    EXPECT_GE(runs[0].end - runs[0].last_high, 19900u);
    EXPECT_GE(runs[1].end - runs[1].last_high, 19900u);
}

TEST(RunByElectrode, WithAConductiveSpecimenIsSoonOver) {
    const Clamped bench = clamped(4500, 3, 20000);
    const auto runs = cut(bench.electrode_V, bench.specimen_V);
    ASSERT_EQ(runs.size(), 2u);
    EXPECT_GE(runs[0].end - runs[0].last_high, 64u);
    EXPECT_LE(runs[0].end - runs[0].last_high, 1000u);
}

TEST(RunByElectrode, IsFoundWhereTheSpecimenTakesNoCharge) {
    const Clamped bench = clamped(0, 3, 20000);
    EXPECT_EQ(cut(bench.electrode_V, bench.specimen_V).size(), 2u);
}

}  // namespace
}  // namespace ebbtide::trace
