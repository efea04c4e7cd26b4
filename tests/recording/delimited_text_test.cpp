// What a person's instrument writes, and what is read from it. All recordings here are made up.

#include <gtest/gtest.h>

#include "basis/sha256.hpp"
#include "recording/reading.hpp"

namespace ebbtide::recording {

using testing_support::as_utf16;
using testing_support::read;
using testing_support::Reading;
using trace::Quantity;
using Kind = trace::Notice::Kind;
using Numbers = std::vector<double>;

namespace {

bool mentions(const std::string& text, std::string_view part) {
    return text.find(part) != std::string::npos;
}

void expect_decay(const Reading& r) {
    ASSERT_FALSE(r.error) << r.error->text();
    ASSERT_EQ(r.segments.size(), 1u) << r.description.dialect;
    EXPECT_EQ(r.specimen().time_s, (Numbers{0, 0.5, 1, 1.5})) << r.description.dialect;
    EXPECT_EQ(r.specimen().value, (Numbers{100, 50.25, 25, 12.5})) << r.description.dialect;
    EXPECT_TRUE(r.notices.empty());
}

}  // namespace

// ---- delimiters, decimal signs, encodings ----

TEST(DelimitedText, ReadsCommas) {
    expect_decay(read("time_s,voltage_V\n0,100\n0.5,50.25\n1,25\n1.5,12.5\n"));
}
TEST(DelimitedText, ReadsSemicolonsAndDecimalCommas) {
    expect_decay(read("Zeit (s);Spannung (V)\n0;100\n0,5;50,25\n1;25\n1,5;12,5\n"));
}
TEST(DelimitedText, ReadsTabs) {
    expect_decay(read("t / s\tU / V\n0\t100\n0.5\t50.25\n1\t25\n1.5\t12.5\n"));
}
TEST(DelimitedText, ReadsTabsAndDecimalCommas) {
    expect_decay(read("t / s\tU / V\n0,0\t100,0\n0,5\t50,25\n1,0\t25,0\n1,5\t12,5\n"));
}
TEST(DelimitedText, ReadsColumnsAlignedWithBlanks) {
    expect_decay(
        read("  time [s]   voltage [V]\n     0.0     100.00\n     0.5      50.25\n     1.0      25.00\n"
             "     1.5      12.50\n"));
}
TEST(DelimitedText, ReadsBlanksAndDecimalCommas) {
    expect_decay(read("0,0 100,0\n0,5 50,25\n1,0 25,0\n1,5 12,5\n"));
}
TEST(DelimitedText, ReadsABlankBehindEveryComma) {
    expect_decay(read("time (s), voltage (V)\n0, 100\n0.5, 50.25\n1, 25\n1.5, 12.5\n"));
}
TEST(DelimitedText, ReadsQuotedCellsWithDecimalCommasBetweenCommas) {
    expect_decay(
        read("\"time (s)\",\"voltage (V)\"\n\"0,0\",\"100,0\"\n\"0,5\",\"50,25\"\n\"1,0\",\"25,0\"\n"
             "\"1,5\",\"12,5\"\n"));
}
TEST(DelimitedText, ReadsQuotedHeadingsThatHoldTheDelimiter) {
    expect_decay(read("\"time, s\",\"voltage, V\"\n0,100\n0.5,50.25\n1,25\n1.5,12.5\n"));
}
TEST(DelimitedText, ReadsWindowsLineEnds) {
    expect_decay(read("time_s,voltage_V\r\n0,100\r\n0.5,50.25\r\n1,25\r\n1.5,12.5\r\n"));
}
TEST(DelimitedText, ReadsLinesThatEndInCarriageReturnsAlone) {
    expect_decay(read("time_s,voltage_V\r0,100\r0.5,50.25\r1,25\r1.5,12.5\r"));
}
TEST(DelimitedText, ReadsDecimalCommasBehindAByteOrderMark) {
    const Reading r =
        read("\xEF\xBB\xBFZeit [s];U [V]\r\n0,0;100,0\r\n0,5;50,25\r\n1,0;25,0\r\n1,5;12,5\r\n");
    expect_decay(r);
    EXPECT_TRUE(mentions(r.description.dialect, "byte-order mark")) << r.description.dialect;
}
TEST(DelimitedText, ReadsUtf16InEitherOrderWithAndWithoutAMark) {
    const std::string text = "time_s\tvoltage_V\r\n0\t100\r\n0.5\t50.25\r\n1\t25\r\n1.5\t12.5\r\n";
    for (const bool big_endian : {false, true})
        for (const bool with_mark : {false, true}) {
            const Reading r = read(as_utf16(text, big_endian, with_mark));
            expect_decay(r);
            EXPECT_TRUE(mentions(r.description.dialect, big_endian ? "UTF-16 BE" : "UTF-16 LE"));
        }
}
TEST(DelimitedText, ReadsLatin1InHeadings) {
    const Reading r = read(
        "T [\xB0"
        "C];t [\xB5s];U [V]\n21,5;0;100\n21,5;1;90\n21,6;2;80\n");
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_TRUE(mentions(r.description.dialect, "Latin-1"));
    EXPECT_EQ(r.description.channels[0].heading, "T [°C]");
    EXPECT_EQ(r.only(Quantity::temperature).value, (Numbers{21.5, 21.5, 21.6}));
    EXPECT_EQ(r.specimen().time_s, (Numbers{0, 1 * 1e-6, 2 * 1e-6}));
}
TEST(DelimitedText, ReadsAnEmptyColumnAtTheEndOfEveryLine) {
    expect_decay(read("time_s,voltage_V,\n0,100,\n0.5,50.25,\n1,25,\n1.5,12.5,\n"));
}
TEST(DelimitedText, ReadsExponentsPlusSignsAndSeventeenDigits) {
    const Reading r = read("t / s;U / V\n+0.0E+00;+1.0e2\n0.50000000000000011;5.0250000000000004E+01\n");
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.specimen().time_s, (Numbers{0, 0.50000000000000011}));
    EXPECT_EQ(r.specimen().value, (Numbers{100, 50.250000000000004}));
}
TEST(DelimitedText, TakesOneColumnOfDecimalCommasForOneColumn) {
    ReadOptions options;
    options.sample_interval_s = 10;
    const Reading r = read("5,55\n5,05\n4,58\n4,17\n", options);
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.specimen().value, (Numbers{5.55, 5.05, 4.58, 4.17}));
}

// ---- what stands around the numbers ----

TEST(DelimitedText, LeavesMetadataAboveAndKeepsIt) {
    const Reading r = read(
        "Logger,TP-1\nOperator,bench 2\nRange,10\n\ntime (s),voltage "
        "(V)\n0,100\n0.5,50.25\n1,25\n1.5,12.5\n");
    expect_decay(r);
    const std::pair<std::string, std::string> logger{"Logger", "TP-1"};
    ASSERT_FALSE(r.description.metadata.empty());
    EXPECT_EQ(r.description.metadata.front(), logger);
}
TEST(DelimitedText, ReadsHeadingsBehindACommentSign) {
    expect_decay(read("# a sketch of ours\n# time [s]  voltage [V]\n0 100\n0.5 50.25\n1 25\n1.5 12.5\n"));
    expect_decay(read("% time_s,voltage_V\n0,100\n0.5,50.25\n1,25\n1.5,12.5\n"));
}
TEST(DelimitedText, ReadsUnitsInARowOfTheirOwn) {
    const Reading r = read("Time,Channel A\n(ms),(mV)\n\n0,100000\n500,50250\n1000,25000\n1500,12500\n");
    expect_decay(r);
    EXPECT_EQ(r.description.channels[0].unit, "mV");
    EXPECT_TRUE(mentions(r.description.dialect, "units in a row"));
}
TEST(DelimitedText, ReadsUnitsInWordsAboveTheNumbers) {
    expect_decay(read("x-axis,1\nsecond,Volt\n0,100\n0.5,50.25\n1,25\n1.5,12.5\n"));
    expect_decay(read("Second,Volt\n0,100\n0.5,50.25\n1,25\n1.5,12.5\n"));
}
TEST(DelimitedText, ReadsMetadataBesideTheFirstNumbers) {
    const Reading r = read(
        "Record Length,4,,0,100\nSample Interval,0.5,s,0.5,50.25\nVertical Units,V,,1,25\n,,,1.5,12.5\n");
    expect_decay(r);
    const std::pair<std::string, std::string> length{"Record Length", "4"};
    ASSERT_FALSE(r.description.metadata.empty());
    EXPECT_EQ(r.description.metadata.front(), length);
}
TEST(DelimitedText, LeavesTextBelowTheNumbers) {
    expect_decay(
        read("time_s,voltage_V\n0,100\n0.5,50.25\n1,25\n1.5,12.5\n\nEnd of recording\nSamples: 4\n"));
}
TEST(DelimitedText, TellsOfTextBetweenTheNumbers) {
    const Reading r = read("time_s,voltage_V\n0,100\n0.5,50.25\nlid opened\n1,25\n1.5,12.5\n");
    ASSERT_FALSE(r.error);
    EXPECT_EQ(r.segments.size(), 1u);
    EXPECT_EQ(r.specimen().value.size(), 4u);
    ASSERT_EQ(r.count(Kind::text_between), 1u);
    EXPECT_EQ(r.first(Kind::text_between).line, 4u);
    EXPECT_EQ(r.first(Kind::text_between).time_s, 0.5);
    EXPECT_TRUE(mentions(r.first(Kind::text_between).text, "lid opened"));
}

// ---- time ----

TEST(DelimitedText, ReadsEveryUnitOfTime) {
    const std::pair<const char*, double> units[] = {
        {"s", 1},    {"ms", 1e-3}, {"us", 1e-6},   {"µs", 1e-6},   {"ns", 1e-9},   {"min", 60},
        {"h", 3600}, {"sec", 1},   {"msec", 1e-3}, {"seconds", 1}, {"minutes", 60}};
    for (const auto& [unit, factor] : units) {
        const Reading r = read(std::string("time [") + unit + "],voltage [V]\n0,3\n1,2\n2,1\n");
        ASSERT_FALSE(r.error) << r.error->text();
        EXPECT_EQ(r.specimen().time_s, (Numbers{0, factor, 2 * factor})) << unit;
    }
}
TEST(DelimitedText, SaysThatTimeWithoutAUnitIsTakenAsSecondsAndLetsAnOptionSettleIt) {
    const std::string text = "0 0.01\n100 0.48\n202 0.90\n302 1.29\n";
    Reading r = read(text);
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_TRUE(mentions(r.description.dialect, "no unit: taken as seconds (--time-unit"));
    EXPECT_EQ(r.specimen().time_s, (Numbers{0, 100, 202, 302}));
    ReadOptions options;
    options.time_unit = "ms";
    r = read(text, options);
    EXPECT_EQ(r.specimen().time_s, (Numbers{0, 100 * 1e-3, 202 * 1e-3, 302 * 1e-3}));
    options.time_unit = "fortnight";
    r = read(text, options);
    ASSERT_TRUE(r.error);
    EXPECT_EQ(r.error->where, "--time-unit");
}
TEST(DelimitedText, StartsASegmentWhereTimeRestartsBetweenLinesOfText) {
    const Reading r = read(
        "Charge 0\n0 0.1\n100 0.4\n200 0.9\nDischarge 0\n0 0.9\n101 0.4\n202 0.1\nCharge 1\n2 0.1\n102 "
        "0.5\nend\n");
    ASSERT_FALSE(r.error) << r.error->text();
    ASSERT_EQ(r.segments.size(), 3u);
    EXPECT_EQ(r.specimen(1).value, (Numbers{0.9, 0.4, 0.1}));
    EXPECT_EQ(r.specimen(2).time_s, (Numbers{2, 102}));
    EXPECT_TRUE(r.notices.empty());
}
TEST(DelimitedText, TakesTheHeadingsWordForTheTimeAndNotTheCountingColumn) {
    const Reading r = read("No,Time,U\n1,0.0,5\n2,0.5,4\n3,1.0,3\n");
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.specimen().time_s, (Numbers{0, 0.5, 1}));
    EXPECT_EQ(r.specimen().value, (Numbers{5, 4, 3}));
}
TEST(DelimitedText, ReadsTimesOfDayAcrossMidnight) {
    const Reading r = read("clock;U [V]\n23:59:59,000;3\n23:59:59,500;2\n00:00:00,250;1\n");
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.segments.size(), 1u);
    EXPECT_EQ(r.specimen().time_s, (Numbers{0, 0.5, 1.25}));
    EXPECT_FALSE(r.description.origin);
}
TEST(DelimitedText, ReadsDatesAndTimesWithAZoneAsAbsoluteTime) {
    const Reading r = read(
        "timestamp,voltage_V\n2026-03-14T09:26:53.5+01:00,3\n2026-03-14T09:26:54.0+01:00,2\n2026-03-14T09:26:"
        "54.5+01:00,1\n");
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.specimen().time_s, (Numbers{0, 0.5, 1}));
    ASSERT_TRUE(r.description.origin);
    EXPECT_EQ(iso_text(*r.description.origin), "2026-03-14T08:26:53.5Z");
}
TEST(DelimitedText, ReadsDatesWithoutAZoneAsRelativeTimeOnly) {
    const Reading r = read("14.03.2026 23:59:59;3,5\n15.03.2026 00:00:00;2,5\n15.03.2026 00:00:01;1,5\n");
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.specimen().time_s, (Numbers{0, 1, 2}));
    EXPECT_FALSE(r.description.origin);
}
TEST(DelimitedText, ReadsDateAndTimeOfDayInTwoColumns) {
    const Reading r =
        read("Date,Time,U (V)\n2026-03-14,23:59:58,3\n2026-03-14,23:59:59,2\n2026-03-15,00:00:01,1\n");
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.specimen().time_s, (Numbers{0, 1, 3}));
}
TEST(DelimitedText, ReadsATimeColumnPerChannel) {
    const Reading r = read("t1,specimen [V],t2,electrode [V]\n0,3,0.1,30\n1,2,0.6,20\n2,1,1.1,10\n3,0,,\n");
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.specimen().time_s, (Numbers{0, 1, 2, 3}));
    EXPECT_EQ(r.only(Quantity::electrode_voltage).time_s, (Numbers{0.1, 0.6, 1.1}));
    EXPECT_EQ(r.only(Quantity::electrode_voltage).value, (Numbers{30, 20, 10}));
    EXPECT_TRUE(r.notices.empty());
}
TEST(DelimitedText, NamesTheSampleIntervalOptionWhereNoTimeWasRecorded) {
    Reading r = read("3.5\n2.5\n1.5\n");
    ASSERT_TRUE(r.error);
    EXPECT_EQ(r.error->code, Fault::bad_input);
    EXPECT_TRUE(mentions(r.error->remedy, "--sample-interval")) << r.error->text();
    EXPECT_TRUE(mentions(r.error->what, "begins 3.5 2.5 1.5")) << r.error->text();
    ReadOptions options;
    options.sample_interval_s = 0.25;
    r = read("3.5\n2.5\n1.5\n", options);
    ASSERT_FALSE(r.error);
    EXPECT_EQ(r.specimen().time_s, (Numbers{0, 0.25, 0.5}));
}
TEST(DelimitedText, TakesTheSampleIntervalFromTheMetadataAndSaysFromWhichLine) {
    const std::tuple<const char*, double, const char*> cases[] = {
        {"Model,TP-1\nSample Interval,2.0E-03\nCH1\n3\n2\n2\n", 2.0e-3, "line 2"},
        {"Sampling rate,1000 Hz\nCH1\n3\n2\n2\n", 1e-3, "line 1"},
        {"# sample interval: 5 ms\n3.5\n2.5\n2.0\n", 5e-3, "line 1"},
        {"Abtastrate;2,5 kHz\nKanal\n3,5\n2,5\n2,0\n", 1 / 2500.0, "line 1"},
        {"X,CH1,Start,Increment\nSequence,Volt,0.0,1.0e-3\n0,3.5\n1,2.5\n2,2.0\n", 1e-3,
         "line 2 says ('Increment')"}};
    for (const auto& [text, interval_s, line] : cases) {
        const Reading r = read(text);
        ASSERT_FALSE(r.error) << text << r.error->text();
        EXPECT_EQ(r.specimen().time_s, (Numbers{0, interval_s, 2 * interval_s})) << text;
        EXPECT_TRUE(mentions(r.description.dialect, line)) << r.description.dialect;
    }
}

// ---- channels ----

TEST(DelimitedText, KnowsEveryChannelByItsHeading) {
    const Reading r = read(
        "time [s],specimen [kV],clamp [kV],release,RH [%],temperature [°C],leakage [nA]\n"
        "0,5,5.1,0,12,23,1\n1,5,5.1,0,12,23,1\n2,4,0,1,12,23,1\n");
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.specimen().value, (Numbers{5000, 5000, 4000}));
    EXPECT_EQ(r.only(Quantity::electrode_voltage).value, (Numbers{5100, 5100, 0}));
    EXPECT_EQ(r.only(Quantity::release_marker).value, (Numbers{0, 0, 1}));
    EXPECT_EQ(r.only(Quantity::relative_humidity).value, (Numbers{12, 12, 12}));
    EXPECT_EQ(r.only(Quantity::temperature).value, (Numbers{23, 23, 23}));
    EXPECT_EQ(r.description.channels.back().quantity, Quantity::other);
}
TEST(DelimitedText, TakesTheOnlyVoltageForTheSpecimens) {
    const Reading r = read("t / s;U_B1 / V;I_A1 / A\n0;9;1e-5\n1;8;1e-5\n2;7;1e-5\n");
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.specimen().value, (Numbers{9, 8, 7}));
}
TEST(DelimitedText, PrefersVoltsToConverterCodesAndSaysSo) {
    const Reading r = read("ms,adc,volts\n0,1023,5.0\n10,818,4.0\n20,614,3.0\n");
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.specimen().value, (Numbers{5, 4, 3}));
    EXPECT_EQ(r.specimen().time_s, (Numbers{0, 10 * 1e-3, 20 * 1e-3}));
    EXPECT_TRUE(mentions(r.description.dialect, "converter codes in column 2 'adc' left aside"));
}
TEST(DelimitedText, ReadsConverterCodesWhereThereAreNoVolts) {
    const Reading r = read("time_ms,raw\n0,1023\n10,818\n20,614\n");
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.specimen().value, (Numbers{1023, 818, 614}));
    EXPECT_EQ(r.description.channels[0].unit, "codes");
    EXPECT_TRUE(mentions(r.description.dialect, "not volts"));
}
TEST(DelimitedText, LeavesAColumnOfWordsAside) {
    const Reading r =
        read("time_s,voltage_V,state\n0,100,charging\n0.5,50.25,hold\n1,25,\n1.5,12.5,released\n");
    expect_decay(r);
    EXPECT_EQ(r.description.channels.size(), 1u);
}
TEST(DelimitedText, LeavesAColumnOfWordsBetweenTheNumbersAside) {
    expect_decay(
        read("time_s;state;voltage_V\n0;\"up; high\";100\n0.5;hold;50.25\n1;;25\n1.5;released;12.5\n"));
}
TEST(DelimitedText, SaysWhatItSawWhenTwoColumnsMayBeTheSpecimen) {
    Reading r = read("Time (s),CH1 (V),CH2 (V)\n0,100,5\n0.5,50,5\n1,25,0\n");
    ASSERT_TRUE(r.error);
    EXPECT_EQ(r.error->code, Fault::bad_input);
    EXPECT_TRUE(mentions(r.error->what, "'CH2 (V)' (V, begins 5 5 0)")) << r.error->what;
    EXPECT_TRUE(mentions(r.error->remedy, "--specimen"));
    ReadOptions options;
    options.specimen = "ch2";
    r = read("Time (s),CH1 (V),CH2 (V)\n0,100,5\n0.5,50,5\n1,25,0\n", options);
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.specimen().value, (Numbers{5, 5, 0}));
}
TEST(DelimitedText, LetsOptionsNameColumnsByNumber) {
    ReadOptions options;
    options.electrode = "2";
    options.time = "4";
    const Reading r = read("1,5,9,0.0\n2,5,8,0.5\n3,0,7,1.0\n", options);
    ASSERT_TRUE(r.error);  // columns 1 and 3 are left
    options.specimen = "3";
    options.marker = "1";
    const Reading named = read("1,5,9,0.0\n2,5,8,0.5\n3,0,7,1.0\n", options);
    ASSERT_FALSE(named.error) << named.error->text();
    EXPECT_EQ(named.specimen().time_s, (Numbers{0, 0.5, 1}));
    EXPECT_EQ(named.specimen().value, (Numbers{9, 8, 7}));
    EXPECT_EQ(named.only(Quantity::electrode_voltage).value, (Numbers{5, 5, 0}));
    EXPECT_EQ(named.only(Quantity::release_marker).value, (Numbers{1, 2, 3}));
}
TEST(DelimitedText, ListsTheColumnsWhenAnOptionNamesNone) {
    ReadOptions options;
    options.specimen = "plate";
    const Reading r = read("time_s,voltage_V\n0,3\n1,2\n", options);
    ASSERT_TRUE(r.error);
    EXPECT_TRUE(mentions(r.error->what, "--specimen plate names no column")) << r.error->what;
    EXPECT_TRUE(mentions(r.error->what, "'voltage_V'")) << r.error->what;
}
TEST(DelimitedText, RefusesOneColumnInTwoParts) {
    ReadOptions options;
    options.specimen = "2";
    options.electrode = "voltage_V";
    EXPECT_TRUE(read("time_s,voltage_V\n0,3\n1,2\n", options).error);
}
TEST(DelimitedText, ReadsASparseChannelWithoutCallingItsGapsMissing) {
    std::string text = "time_s,voltage_V,temp_C\n";
    for (int i = 0; i < 30; ++i)
        text += std::to_string(i) + "," + std::to_string(30 - i) + (i % 10 == 0 ? ",23\n" : ",\n");
    const Reading r = read(text);
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.only(Quantity::temperature).time_s, (Numbers{0, 10, 20}));
    EXPECT_TRUE(r.notices.empty());
}

TEST(DelimitedText, TellsUnitsInBracketsFromRemarksInBrackets) {
    const std::pair<const char*, double> headings[] = {{"V(out)", 1},         {"CH1 (mean)", 1},
                                                       {"U [kV] upper", 1e3}, {"Voltage (mV)", 1e-3},
                                                       {"CH1 mV", 1e-3},      {"Spannung in kV", 1e3}};
    for (const auto& [heading, factor] : headings) {
        const Reading r = read(std::string("time\t") + heading + "\n0.0\t3\n0.5\t2\n1.0\t1\n");
        ASSERT_FALSE(r.error) << r.error->text();
        EXPECT_EQ(r.specimen().value, (Numbers{3 * factor, 2 * factor, 1 * factor})) << heading;
    }
    EXPECT_TRUE(read("time\tforce [N]\n0.0\t3\n0.5\t2\n1.0\t1\n").error);
}
TEST(DelimitedText, ReadsATerminalsTimesOfDayBeforeEachLine) {
    const Reading r = read("17:03:21.500 -> 512\n17:03:21.750 -> 256\n17:03:22.000 -> 128\n");
    ASSERT_FALSE(r.error) << r.error->text();
    EXPECT_EQ(r.specimen().time_s, (Numbers{0, 0.25, 0.5}));
    EXPECT_EQ(r.specimen().value, (Numbers{512, 256, 128}));
}
TEST(DelimitedText, TellsFaultsOnTheFirstLineOfASegment) {
    const Reading r = read("t [s],U [V],RH [%]\n0,3,12\n1,2,12\n2,1,12\n0,nan,12\n1,2,12\n2,1,12\n");
    ASSERT_FALSE(r.error) << r.error->text();
    ASSERT_EQ(r.segments.size(), 2u);
    EXPECT_EQ(r.count(Kind::value_missing), 1u);
    EXPECT_EQ(r.first(Kind::value_missing).line, 5u);
}
TEST(DelimitedText, KeepsTheSameSamplesAndNoticesWhateverPartsTheLinesComeIn) {
    // More lines than a block, with restarts and faults in the middle of blocks.
    std::string text = "t [s],U [V]\n";
    for (int i = 0; i < 30'000; ++i)
        text += std::to_string(i % 7001) + (i % 997 == 996 ? ",nan" : "," + std::to_string(i % 101) + ".25") +
                "\n";
    const Reading r = read(text);
    ASSERT_FALSE(r.error) << r.error->text();
    ASSERT_EQ(r.segments.size(), 5u);
    EXPECT_EQ(r.count(Kind::value_missing), 30u);
    std::size_t samples = 0;
    for (const auto& segment : r.segments) samples += segment.channels[0].value.size();
    EXPECT_EQ(samples, 30'000u - 30u);
    EXPECT_EQ(r.specimen(4).time_s.back(), 29'999 % 7001);
    EXPECT_EQ(r.specimen(4).value.back(), 29'999 % 101 + 0.25);
}

// ---- identity ----

TEST(DelimitedText, HashesTheBytesAsTheyCame) {
    const std::string text = as_utf16("time_s,voltage_V\n0,3\n1,2\n", false, true);
    EXPECT_EQ(read(text).sha256, sha256_hex(text));
    ReadOptions options;
    options.hash = false;
    EXPECT_EQ(read(text, options).sha256, "");
}

}  // namespace ebbtide::recording
