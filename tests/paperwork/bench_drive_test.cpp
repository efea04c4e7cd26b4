// The tables of a bench file that live work needs.

#include <gtest/gtest.h>

#include <fstream>
#include <sstream>

#include "paperwork/documents.hpp"

namespace ebbtide::paperwork {
namespace {

const std::string drive = R"(
[drive]
near_zero_V = 50
settle_tolerance = 0.02
settle_s = 0.2
longest_rise_s = 5
longest_charge_s = 30
earth_within_s = 2
longest_fall_s = 120
rest_s = 5
unattended_replicates = 3
)";

const std::string check = R"(
[check]
valid_h = 24
voltage_V = 5000
second_voltage_V = 2500
hold_s = 5
zero_limit_V = 30
span_tolerance = 0.03
linearity_tolerance = 0.02
induced_tolerance = 0.02
standard_level = "10 %"
standard_decay_s = 0.48
standard_tolerance = 0.05
polarity_tolerance = 0.03
blank_accepted_most = 0.05
)";

std::string with_both_fractions() {
    return documents::changed(documents::bench, "induced_fraction_positive = 0.11",
                              "induced_fraction_positive = 0.11\ninduced_fraction_negative = 0.11");
}

std::string complaint(const std::string& toml) {
    const auto bench = parse_bench(toml, "bench.toml");
    return bench.ok() ? "" : bench.error().text();
}

TEST(BenchDriveTables, AreReadWhereTheyAre) {
    const auto plain = parse_bench(documents::bench, "bench.toml");
    ASSERT_TRUE(plain.ok());
    EXPECT_FALSE(plain->drive);
    EXPECT_FALSE(plain->check);
    const auto bench =
        parse_bench(with_both_fractions() + drive + check +
                        "\n[[setup]]\ntext = \"Earth first.\"\n[[setup]]\ntext = \"Warm-up.\"\n",
                    "bench.toml");
    ASSERT_TRUE(bench.ok()) << bench.error().text();
    EXPECT_EQ(bench->drive->longest_fall_s, 120);
    EXPECT_EQ(bench->drive->unattended_replicates, 3);
    EXPECT_EQ(bench->drive->look_s, 0.02);
    EXPECT_EQ(bench->check->standard_level.value, 0.1);
    EXPECT_EQ(bench->setup, (std::vector<std::string>{"Earth first.", "Warm-up."}));
}

TEST(BenchDriveTables, LeaveNoSafetyLimitToADefault) {
    for (const char* key : {"near_zero_V", "longest_rise_s", "longest_charge_s", "earth_within_s",
                            "longest_fall_s", "unattended_replicates", "settle_tolerance"}) {
        std::string without = drive;
        const std::size_t at = without.find(key);
        without.erase(at, without.find('\n', at) + 1 - at);
        EXPECT_NE(complaint(documents::bench + without).find(key), std::string::npos) << key;
    }
}

TEST(BenchDriveTables, RefuseWhatCannotBe) {
    const auto with = [](const std::string& key, const std::string& value) {
        return complaint(documents::bench + drive + key + " = " + value + "\n");
    };
    EXPECT_NE(with("look_s", "0.5").find("look_s"), std::string::npos) << "an abort would come late";
    EXPECT_NE(with("hold_s", "60").find("longer than longest_charge_s"), std::string::npos);
    EXPECT_NE(complaint(documents::bench + drive + check).find("induced"), std::string::npos);
    EXPECT_NE(complaint(documents::changed(with_both_fractions() + check, "second_voltage_V = 2500",
                                           "second_voltage_V = 5000"))
                  .find("second_voltage_V"),
              std::string::npos);
}

TEST(BenchDriveTables, OfTheExampleAreTaken) {
    std::ifstream in(EBBTIDE_SOURCE_DIR "/examples/awning-live/bench.toml");
    std::ostringstream text;
    text << in.rdbuf();
    EXPECT_EQ(complaint(text.str()), "");
}

}  // namespace
}  // namespace ebbtide::paperwork
