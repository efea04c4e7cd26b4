// What all documents have in common: unknown keys, wrong types, ranges, missing keys, and files that are
// meant to do harm.

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <chrono>
#include <cmath>
#include <fstream>
#include <functional>
#include <sstream>

#include "paperwork/documents.hpp"
#include "paperwork/problems.hpp"

namespace ebbtide::paperwork {
namespace {

using documents::changed;
using documents::line_of;
using documents::refused;

struct Kind {
    std::string name;
    std::string valid;
    std::function<std::optional<Error>(const std::string&)> error_of;
};

template <class Parse>
std::function<std::optional<Error>(const std::string&)> error_by(Parse parse) {
    return [parse](const std::string& text) -> std::optional<Error> {
        const auto result = parse(text, "file.toml");
        return result.ok() ? std::nullopt : std::optional(result.error());
    };
}

std::vector<Kind> kinds() {
    return {{"method", documents::method, error_by(parse_method)},
            {"specification", documents::specification, error_by(parse_specification)},
            {"bench", documents::bench, error_by(parse_bench)},
            {"order", documents::order, error_by(parse_order)}};
}

}  // namespace

TEST(Documents, TheValidOnesAreTaken) {
    for (const Kind& kind : kinds()) {
        const auto error = kind.error_of(kind.valid);
        EXPECT_FALSE(error.has_value()) << kind.name << ": " << error->text();
    }
}

TEST(Documents, AnUnknownKeyIsRefusedWithTheNearestKnownOne) {
    EXPECT_TRUE(refused(parse_method(changed(documents::method, "hold_s", "hold"), "m.toml"),
                        "m.toml:" + line_of(documents::method, "hold_s") +
                            ": unknown key 'charging.hold'. Did you mean 'hold_s'?"));
    EXPECT_TRUE(refused(parse_bench(changed(documents::bench, "u_linearity", "u_linerity"), "b.toml"),
                        "Did you mean 'u_linearity'?"));
    EXPECT_TRUE(refused(parse_order(changed(documents::order, "[people]", "[persons]"), "o.toml"),
                        "unknown key 'persons'"));
    EXPECT_TRUE(refused(parse_order(changed(documents::order, "tested_by", "colour_of_the_coat"), "o.toml"),
                        "Known here: tested_by, authorised_by, authorised_role"));
}

TEST(Documents, ANearestKeyIsASlipOfThePenOrNone) {
    const std::vector<std::string> known{"hold_s", "guard_s", "minimum_initial_V"};
    EXPECT_EQ(nearest("hold", known), "hold_s");
    EXPECT_EQ(nearest("minimal_initial_V", known), "minimum_initial_V");
    EXPECT_EQ(nearest("apparatus", known), "");
    EXPECT_EQ(nearest(std::string(1 << 20, 'x'), known), "");
}

TEST(Documents, AWrongTypeSaysWhatWasFoundAndWhatIsWanted) {
    EXPECT_TRUE(
        refused(parse_method(changed(documents::method, "hold_s = 20", "hold_s = \"20 s\""), "m.toml"),
                "'charging.hold_s' is the text '20 s'; it must be a number above 0"));
    EXPECT_TRUE(
        refused(parse_method(changed(documents::method, "replicates = 3", "replicates = 3.5"), "m.toml"),
                "'runs.replicates' is the number 3.5; it must be a whole number from 1 to 1000"));
    EXPECT_TRUE(refused(
        parse_method(changed(documents::method, "extrapolation = true", "extrapolation = 1"), "m.toml"),
        "it must be true or false"));
    EXPECT_TRUE(refused(parse_method(changed(documents::method, "[\"front\"]", "\"front\""), "m.toml"),
                        "it must be a list of texts"));
    EXPECT_TRUE(refused(
        parse_method(changed(documents::method, "{ nominal = 5000, plus_minus = 100 }", "5000"), "m.toml"),
        "'charging.voltage_V' is the number 5000; it must be a table"));
}

TEST(Documents, AValueOutOfRangeSaysTheValueAndTheRange) {
    EXPECT_TRUE(refused(parse_method(changed(documents::method, "fraction = 0.8", "fraction = 80"), "m.toml"),
                        "'charging.minimum_accepted_fraction' is 80; it must be above 0 to 1"));
    EXPECT_TRUE(
        refused(parse_bench(changed(documents::bench, "\nlag_s = 0.005", "\nlag_s = -0.005"), "b.toml"),
                "'sensor.lag_s' is -0.005; it must be from 0 to"));
}

TEST(Documents, InfiniteAndUndefinedNumbersAreRefused) {
    for (const char* number : {"inf", "-inf", "nan", "+nan", "1e400"})
        EXPECT_FALSE(
            parse_bench(changed(documents::bench, "\nlag_s = 0.005", std::string("\nlag_s = ") + number), "b")
                .ok())
            << number;
}

TEST(Documents, WholeNumbersAreTakenWhereNumbersAreWanted) {
    EXPECT_EQ(parse_bench(changed(documents::bench, "\nlag_s = 0.005", "\nlag_s = 1"), "b")->sensor.lag_s,
              1.0);
}

TEST(Documents, AMissingKeyIsReportedAtItsTable) {
    EXPECT_TRUE(
        refused(parse_order(changed(documents::order, "tested_by = \"T\"\n", ""), "o.toml"),
                "o.toml:" + line_of(documents::order, "[people]") + ": 'people.tested_by' is missing"));
    EXPECT_TRUE(refused(parse_order(changed(documents::order, "[people]\ntested_by = \"T\"\n", ""), "o.toml"),
                        "o.toml:1: 'people' is missing"));
}

TEST(Documents, AllProblemsComeAtOnceInTheOrderOfTheirLines) {
    std::string text = changed(documents::method, "hold_s = 20", "hold_s = -1");
    text = changed(text, "replicates = 3", "replicates = 0");
    text = changed(text, "at_least_h", "at_leest_h");
    const auto method = parse_method(text, "m.toml");
    ASSERT_FALSE(method.ok());
    const std::string told = method.error().text();
    const std::size_t first = told.find("at_leest_h"), second = told.find("hold_s' is -1"),
                      third = told.find("replicates");
    ASSERT_NE(third, std::string::npos) << told;
    EXPECT_LT(first, second);
    EXPECT_LT(second, third);
    EXPECT_EQ(std::count(told.begin(), told.end(), '\n'), 2) << told;
    std::istringstream lines(told);
    for (std::string line; std::getline(lines, line);) EXPECT_TRUE(line.starts_with("m.toml:")) << line;
}

TEST(Documents, ADocumentSaysWhatItIs) {
    for (const Kind& kind : kinds()) {
        const auto missing = kind.error_of(kind.valid.substr(kind.valid.find('\n') + 1));
        ASSERT_TRUE(missing.has_value());
        EXPECT_NE(missing->text().find("'schema' is missing"), std::string::npos) << missing->text();
        const auto newer = kind.error_of(changed(kind.valid, "/1\"", "/2\""));
        ASSERT_TRUE(newer.has_value());
        EXPECT_NE(newer->text().find("a newer one is needed"), std::string::npos) << newer->text();
        for (const Kind& other : kinds()) {
            if (other.name == kind.name) continue;
            const auto wrong = kind.error_of(other.valid);
            ASSERT_TRUE(wrong.has_value());
            EXPECT_NE(wrong->text().find("Check that this is the file you meant"), std::string::npos);
        }
    }
}

TEST(Documents, TextsAreFilledAndHoldNoControlCharacters) {
    EXPECT_TRUE(refused(parse_order(changed(documents::order, "title = \"An order\"", "title = \"  \""), "o"),
                        "'title' is an empty text"));
    EXPECT_TRUE(
        refused(parse_order(changed(documents::order, "title = \"An order\"", "title = \"a\\u0000b\""), "o"),
                "'title' holds a control character"));
    EXPECT_TRUE(refused(parse_order(changed(documents::order, "id = \"o1\"", "id = \" o1\""), "o"),
                        "without blanks"));
}

// Hostile files: an Error each, with the file's name, and never a crash.
TEST(HostileDocuments, GetAnErrorEach) {
    const std::string megabyte(1 << 20, 'x');
    const auto repeated = [](std::string_view part, int count) {
        std::string out;
        for (int i = 0; i < count; ++i) out += part;
        return out;
    };
    const auto numbered = [](const char* part, int count) {
        std::string out;
        for (int i = 0; i < count; ++i) fmt::format_to(std::back_inserter(out), fmt::runtime(part), i);
        return out;
    };
    const std::vector<std::string> texts{
        "",
        "\n\n\n",
        std::string(1000, '\0'),
        "\xFF\xFE" + std::string("s\0c\0h\0", 6),
        "\x80\x81\xC3",
        "\u0181",
        "\u00E9 = 1",
        "[=]",
        "schema",
        "schema = ",
        "schema = \"",
        "[",
        "]",
        "= 1",
        megabyte,
        megabyte + " = 1",
        "schema = \"" + megabyte + "\"",
        "a = " + repeated("[", 100000),
        "a = " + repeated("[", 100000) + repeated("]", 100000),
        repeated("{a=", 100000),
        "[" + repeated("a.", 500000) + "a]",
        repeated("a.", 500000) + "a = 1",
        "a = [" + repeated("{" + repeated("b.", 150) + "b = [", 300),
        repeated("[[a]]\n", 100000),
        repeated("[a]\n", 10),
        std::string(5 << 20, '#'),
        "[sources]\n" + numbered("a{} = \"x\"\n", 50000),
        "[consequences]\n" + numbered("a{} = \"x\"\n", 50000),
        numbered("[[specimen]]\nid = \"{}\"\nitem = \"nothing\"\n", 15000),
        numbered("[[specimen]]\nid = \"longer name {}\"\n", 8000) + "[[recording]]\nfile = \"a\"\nruns = [" +
            numbered("{{specimen = \"longer nime {}\"}},\n", 8000) + "]\n",
        "[[recording]]\nfile = \"a\"\nruns = [" + repeated("{},", 150000) + "]\n",
        "a = 99999999999999999999999999",
        "a = 1e99999",
        "a = 2026-99-99",
        "a = 1\na = 2",
    };
    for (const Kind& kind : kinds()) {
        for (const std::string& text : texts) {
            const auto before = std::chrono::steady_clock::now();
            const auto error = kind.error_of(text);
            const std::chrono::duration<double> took = std::chrono::steady_clock::now() - before;
            ASSERT_TRUE(error.has_value()) << kind.name << ": " << text.substr(0, 40);
            EXPECT_LT(took.count(), 60) << "a clear answer comes soon: " << text.substr(0, 40);
            EXPECT_EQ(error->code, Fault::bad_input);
            EXPECT_TRUE(error->text().starts_with("file.toml")) << error->text().substr(0, 200);
            EXPECT_LT(error->text().size(), 20000u);
        }
        // The same behind a proper head.
        const std::string head = kind.valid.substr(0, kind.valid.find('\n') + 1);
        for (const std::string& text : texts) {
            const auto before = std::chrono::steady_clock::now();
            EXPECT_TRUE(kind.error_of(head + text).has_value());
            const std::chrono::duration<double> took = std::chrono::steady_clock::now() - before;
            EXPECT_LT(took.count(), 60) << "a clear answer comes soon: " << text.substr(0, 40);
        }
    }
}

TEST(Documents, TextsMayHoldAnyLetters) {
    const auto order = parse_order(
        changed(documents::order, "\"An order\"", "\"\"\"A \\\n   \u00E9toffe \u0141\u00F3d\u017A\"\"\""),
        "o");
    ASSERT_TRUE(order.ok()) << order.error().text();
    EXPECT_EQ(order->title, "A \u00E9toffe \u0141\u00F3d\u017A");
}

TEST(HostileDocuments, FarTooMuchInAnyTextIsRefused) {
    const std::string far_too_much(1 << 16, 'x');
    for (const Kind& kind : kinds()) {
        std::size_t tried = 0;
        for (std::size_t at = kind.valid.find("= \""); at != std::string::npos;
             at = kind.valid.find("= \"", at + 1)) {
            std::string text = kind.valid;
            text.insert(at + 3, far_too_much);
            EXPECT_TRUE(kind.error_of(text).has_value()) << kind.valid.substr(at > 20 ? at - 20 : 0, 30);
            ++tried;
        }
        EXPECT_GT(tried, 5u);
    }
}

TEST(HostileDocuments, TheWrongTypeIsRefusedForEveryKey) {
    // Each line "key = value" in turn gets a value that no key takes: a time of day.
    for (const Kind& kind : kinds()) {
        std::istringstream lines(kind.valid);
        std::vector<std::string> all;
        for (std::string line; std::getline(lines, line);) all.push_back(line);
        for (std::size_t i = 0; i < all.size(); ++i) {
            const std::size_t at = all[i].find(" = ");
            if (at == std::string::npos || all[i].ends_with('[') || all[i].starts_with(' ')) continue;
            std::string text;
            for (std::size_t j = 0; j < all.size(); ++j)
                text += (j == i ? all[j].substr(0, at) + " = 07:32:00" : all[j]) + '\n';
            const auto error = kind.error_of(text);
            ASSERT_TRUE(error.has_value()) << kind.name << ": " << all[i];
            EXPECT_NE(error->text().find("file.toml:" + std::to_string(i + 1) + ':'), std::string::npos)
                << all[i] << '\n'
                << error->text();
        }
    }
}

// Spoiled at random, a document is refused or its numbers are numbers.

namespace {

std::string spoiled(std::string text) {
    const int changes = *rc::gen::inRange(1, 6);
    for (int i = 0; i < changes && !text.empty(); ++i) {
        const auto at = *rc::gen::inRange<std::size_t>(0, text.size());
        switch (*rc::gen::inRange(0, 4)) {
            case 0:
                text[at] = *rc::gen::arbitrary<char>();
                break;
            case 1:
                text.erase(at, *rc::gen::inRange<std::size_t>(1, 20));
                break;
            case 2:
                text.insert(
                    at, *rc::gen::element<std::string>("\"", "[", "]", "{", ".", "=", "inf", "nan", "-", "9",
                                                       "e308", "0", "\n", "#", "1/e", "\\u0000"));
                break;
            default: {
                const auto from = *rc::gen::inRange<std::size_t>(0, text.size());
                text.insert(at, text.substr(from, 40));
            }
        }
    }
    return text;
}

bool finite(const std::optional<double>& value) {
    return !value || std::isfinite(*value);
}

bool finite(const std::optional<plan::Tolerance>& value) {
    return !value || (std::isfinite(value->nominal) && std::isfinite(value->plus_minus));
}

bool finite(const plan::VoltageScale& scale) {
    return std::isfinite(scale.gain_positive) && std::isfinite(scale.gain_negative) &&
           std::isfinite(scale.offset) && finite(scale.full_scale_V) && std::isfinite(scale.u_gain) &&
           scale.gain_positive != 0;
}

}  // namespace

RC_GTEST_PROP(SpoiledDocuments, AMethodIsRefusedOrFinite, ()) {
    const auto method = parse_method(spoiled(documents::method), "m");
    if (!method) return;
    RC_ASSERT(finite(method->conditioning.relative_humidity_percent) &&
              finite(method->conditioning.temperature_C) && finite(method->conditioning.at_least_h) &&
              finite(method->charging.voltage_V) && finite(method->charging.hold_s) &&
              finite(method->charging.minimum_initial_V) &&
              finite(method->charging.minimum_accepted_fraction) && finite(method->decay.basis_window_s) &&
              finite(method->decay.residual_limit_V) && finite(method->decay.zero_limit_V) &&
              std::isfinite(method->decay.basis_guard_s) && std::isfinite(method->decay.zero_floor.value));
    RC_ASSERT(!method->decay.levels.empty());
    for (const plan::Level& level : method->decay.levels) RC_ASSERT(std::isfinite(level.value));
}

RC_GTEST_PROP(SpoiledDocuments, ASpecificationIsRefusedOrFinite, ()) {
    const auto specification = parse_specification(spoiled(documents::specification), "s");
    if (!specification) return;
    RC_ASSERT(!specification->demands.empty());
    for (const plan::Demand& demand : specification->demands) {
        RC_ASSERT(!demand.any_of.empty());
        for (const plan::Requirement& requirement : demand.any_of)
            RC_ASSERT(std::isfinite(requirement.limit_s) && requirement.limit_s > 0 &&
                      std::isfinite(requirement.level.value) && requirement.level.value > 0);
    }
}

RC_GTEST_PROP(SpoiledDocuments, ABenchIsRefusedOrFinite, ()) {
    const auto bench = parse_bench(spoiled(documents::bench), "b");
    if (!bench) return;
    RC_ASSERT(finite(bench->sensor.scale) && finite(bench->electrode) && std::isfinite(bench->sensor.lag_s) &&
              std::isfinite(bench->sensor.u_lag_s) && std::isfinite(bench->sensor.u_linearity) &&
              std::isfinite(bench->sensor.resolution_s) && finite(bench->induced_fraction(true)) &&
              finite(bench->induced_fraction(false)) && std::isfinite(bench->fixture.u_induced_fraction) &&
              std::isfinite(bench->recorder.u_time_base) && std::isfinite(bench->recorder.u_channel_skew_s) &&
              std::isfinite(bench->hygrometer.u_relative_humidity_percent));
}

RC_GTEST_PROP(SpoiledDocuments, AnOrderIsRefusedOrConsistent, ()) {
    const auto order = parse_order(spoiled(documents::order), "o");
    if (!order) return;
    RC_ASSERT(order->tested_from.year != 0 && order->tested_from <= order->tested_to);
    for (const plan::PlannedRecording& recording : order->recordings) {
        RC_ASSERT(!recording.runs.empty() && !recording.file.empty());
        for (const plan::PlannedRun& run : recording.runs) {
            RC_ASSERT(order->specimen(run.key.specimen) != nullptr);
            RC_ASSERT(order->condition(run.key.conditions) != nullptr);
        }
    }
    for (const plan::TestConditions& conditions : order->conditions)
        RC_ASSERT(finite(conditions.relative_humidity_percent) && finite(conditions.temperature_C));
}

}  // namespace ebbtide::paperwork
