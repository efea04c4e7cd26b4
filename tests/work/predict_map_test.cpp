// A sheet with patches or threads, from its file to its decay times.

#include "work/predict_map.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "paperwork/paperwork.hpp"
#include "paperwork/sheet_map_file.hpp"
#include "sheet/map.hpp"
#include "support/cut_sheets.hpp"
#include "support/sheet_recording.hpp"
#include "work/predict.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;

constexpr double film_F_m2 = 1e-7;

plan::SheetMapFile map_of(const std::string& parts, double base = 1e11, double cell_mm = 2,
                          double width_mm = 40) {
    const auto map = paperwork::parse_sheet_map(
        fmt::format("schema = \"ebbtide.sheet_map/1\"\nwidth_mm = {}\ncell_mm = {}\n"
                    "surface_resistivity_ohm_sq = {}\n{}",
                    width_mm, cell_mm, base, parts),
        "map.toml");
    EXPECT_TRUE(map.ok()) << (map ? "" : map.error().text());
    return map.ok() ? *map : plan::SheetMapFile{};
}

work::MapRequest request_of(const plan::SheetMapFile& map, double sensor_mm = 12.5) {
    work::MapRequest out;
    out.bench = paperwork::parse_bench(
                    sheet_bench_toml(fmt::format(
                        "clamp_gap_mm = 80\nsensor_distance_mm = {}\naperture_mm = 6\n", sensor_mm)),
                    "bench.toml")
                    .value();
    out.question.backing_capacitance_F_m2 = film_F_m2;
    for (const char* level : {"50%", "10%"}) out.levels.push_back(plan::parse_level(level).value());
    out.map = map;
    return out;
}

work::MapPrediction predicted(const work::MapRequest& request) {
    const auto out = work::predict_map(request);
    EXPECT_TRUE(out.ok()) << (out ? "" : out.error().text());
    return out.ok() ? *out : work::MapPrediction{};
}

TEST(PredictMap, OfAnEvenSheetIsThatSheet) {
    const work::MapRequest request = request_of(map_of(""));
    const auto map = predicted(request);
    work::PredictRequest even;
    even.bench = request.bench;
    even.question = request.question;
    even.levels = request.levels;
    even.resistivity_ohm_sq = 1e11;
    const auto sheet = work::predict(even);
    ASSERT_TRUE(sheet.ok());
    EXPECT_EQ(map.cells_along, 40u);
    EXPECT_EQ(map.cells_across, 20u);
    for (std::size_t i = 0; i < 2; ++i) {
        // A ladder of 40 is slow by pi^2/12 of a 1600th, and what the view is cut into by a little.
        EXPECT_NEAR(map.levels[i].decay_s / sheet->asked->levels[i].decay_s, 1, 3e-3);
        EXPECT_NEAR(map.levels[i].even_ohm_sq.value_or(0) / 1e11, 1, 3e-3);
    }
    EXPECT_NEAR(map.induced_fraction, sheet->asked->induced_fraction, 1e-12);
}

TEST(PredictMap, OfFineThreadsIsTheirMean) {
    // From clamp to clamp conductances add up: half 1e9, half 3e10 ohm make 1.935e9; a thread w wide lags
    // behind its neighbours by w^2 R c / 12, a 500th of T1 here.
    const auto lengthwise = predicted(
        request_of(map_of("[[threads]]\nrun = \"from_clamp_to_clamp\"\npitch_mm = 2\nthread_mm = 1\n"
                          "surface_resistivity_ohm_sq = 1e9\n",
                          3e10, 1)));
    const double mean = 2 / (1 / 1e9 + 1 / 3e10);
    EXPECT_NEAR(lengthwise.parts_share, 0.5, 1e-12);
    EXPECT_NEAR(lengthwise.levels[1].even_ohm_sq.value_or(0) / mean, 1, 0.01);
    // Along the clamps resistances do: (1e9 + 3e10) / 2.
    const auto crosswise =
        predicted(request_of(map_of("[[threads]]\nrun = \"along_the_clamps\"\npitch_mm = 2\nthread_mm = 1\n"
                                    "surface_resistivity_ohm_sq = 1e9\n",
                                    3e10, 1, 10)));
    EXPECT_NEAR(crosswise.levels[1].even_ohm_sq.value_or(0) / ((1e9 + 3e10) / 2), 1, 0.01);
}

TEST(PredictMap, OfCoarseThreadsFallsSlowlyBetweenThem) {
    // Threads 20 mm apart that empty at once leave strips earthed on all four edges, 80 by 19 mm: their
    // middle is a product of two plane walls (heat-transfer handbooks, Bi -> infinity), of which the narrow
    // one is late. The sensor's view, as wide as a disc's a^2/4 and its distance's h^2/3, takes exp(-k^2
    // (a^2/4 + h^2/3) / 2) of that wave.
    const auto map = predicted(
        request_of(map_of("[[threads]]\nrun = \"from_clamp_to_clamp\"\npitch_mm = 20\nthread_mm = 1\n"
                          "first_mm = 19.5\nsurface_resistivity_ohm_sq = 1e5\n",
                          1e11, 1, 60),
                   2));
    const double k2 = std::pow(std::numbers::pi / 0.019, 2), t = map.levels[1].decay_s;
    const double along = sheet::plane_wall(t / (1e11 * film_F_m2 * std::pow(0.08 / std::numbers::pi, 2))),
                 across = 4 / std::numbers::pi * std::exp(-t * k2 / (1e11 * film_F_m2)),
                 seen = std::exp(-k2 * (9e-6 / 4 + 4e-6 / 3) / 2);
    // Half a millimetre off the middle: 0.3 %; 19 cells across: 0.2 % of 2.5 time constants.
    EXPECT_NEAR(along * across * seen / 0.1, 1, 0.015);
}

TEST(PredictMap, ReadsAPatchMoreTheNearerItLiesToTheSensor) {
    const auto with_patch = [](double along_mm, double across_mm) {
        return predicted(request_of(map_of(fmt::format(
            "[[patch]]\nalong_from_mm = {}\nalong_to_mm = {}\nacross_from_mm = {}\nacross_to_mm = {}\n"
            "surface_resistivity_ohm_sq = 1e8\n",
            along_mm - 6, along_mm + 6, across_mm - 6, across_mm + 6))));
    };
    const auto middle = with_patch(40, 20), aside = with_patch(40, 34), at_clamp = with_patch(6, 20);
    for (const work::MapPrediction& map : {middle, aside, at_clamp}) {
        EXPECT_LT(map.levels[1].even_ohm_sq.value_or(0), 1e11) << "it conducts better";
        EXPECT_GT(map.levels[1].even_ohm_sq.value_or(0), 1e10) << "it bridges nothing";
        EXPECT_NEAR(map.parts_share, 144.0 / 3200, 1e-12);
    }
    // All the sheet's charge still has to leave by the clamps: a patch in the middle shortens the way least
    // where no current flows, one at a clamp shortens the gap.
    EXPECT_LT(at_clamp.levels[1].decay_s, middle.levels[1].decay_s);
    EXPECT_NE(middle.levels[0].decay_s, aside.levels[0].decay_s);
    // A patch from clamp to clamp does bridge.
    const auto bridge = predicted(request_of(
        map_of("[[patch]]\nalong_from_mm = 0\nalong_to_mm = 80\nacross_from_mm = 14\nacross_to_mm = 26\n"
               "surface_resistivity_ohm_sq = 1e8\n")));
    EXPECT_LT(bridge.levels[0].decay_s, 0.2 * middle.levels[0].decay_s);
}

TEST(PredictMap, WaitsBehindContacts) {
    work::MapRequest request = request_of(map_of(""));
    request.contact_ohm_m = 1e9;
    work::PredictRequest even;
    even.bench = request.bench;
    even.question = request.question;
    even.levels = request.levels;
    even.resistivity_ohm_sq = 1e11;
    even.contact_ohm_m = 1e9;
    const auto sheet = work::predict(even);
    ASSERT_TRUE(sheet.ok());
    const auto map = predicted(request);
    EXPECT_NEAR(map.levels[1].decay_s / sheet->asked->levels[1].decay_s, 1, 3e-3);
}

TEST(PredictMap, RefusesWhatIsNoMap) {
    const auto refused = [](const work::MapRequest& request) {
        const auto out = work::predict_map(request);
        return !out.ok() && out.error().code == Fault::bad_input && !out.error().what.empty();
    };
    const std::string patch =
        "[[patch]]\nalong_from_mm = {}\nalong_to_mm = {}\nacross_from_mm = 0\n"
        "across_to_mm = 40\nsurface_resistivity_ohm_sq = 1e9\n";
    EXPECT_FALSE(refused(request_of(map_of(""))));
    EXPECT_TRUE(refused(request_of(map_of(fmt::format(fmt::runtime(patch), 70, 81))))) << "beyond the clamp";
    EXPECT_TRUE(refused(request_of(map_of(fmt::format(fmt::runtime(patch), 40.1, 40.3)))))
        << "between middles";
    EXPECT_TRUE(refused(request_of(map_of("", 1e11, 0.05)))) << "too many cells";
    EXPECT_TRUE(
        refused(request_of(map_of("[[threads]]\nrun = \"from_clamp_to_clamp\"\npitch_mm = 5\n"
                                  "thread_mm = 1\nsurface_resistivity_ohm_sq = 1e9\n"))))
        << "threads of 1 mm in cells of 2";
    work::MapRequest hanging = request_of(map_of(""));
    hanging.bench.fixture.enclosure_behind_mm = 50;
    hanging.question = {};
    EXPECT_TRUE(refused(hanging)) << "a sheet that hangs";
    work::MapRequest unknown = request_of(map_of(""));
    unknown.question = {};
    EXPECT_TRUE(refused(unknown)) << "no capacitance";
    work::MapRequest levels = request_of(map_of(""));
    levels.levels.clear();
    EXPECT_TRUE(refused(levels));
    levels.levels = {plan::parse_level("500 V").value()};
    EXPECT_TRUE(refused(levels));
}

TEST(SheetMapFile, IsRefusedWithTheLineOfItsFault) {
    const auto fault = [](const std::string& text) {
        const auto map = paperwork::parse_sheet_map(text, "map.toml");
        return map.ok() ? std::string() : map.error().text();
    };
    const std::string good =
        "schema = \"ebbtide.sheet_map/1\"\nwidth_mm = 40\ncell_mm = 2\n"
        "surface_resistivity_ohm_sq = 1e11\n";
    EXPECT_EQ(fault(good), "");
    EXPECT_NE(fault(good + "cell = 2\n").find("map.toml:5"), std::string::npos) << fault(good + "cell = 2\n");
    for (const char* wrong :
         {"[[patch]]\nalong_from_mm = 5\nalong_to_mm = 5\nacross_from_mm = 0\nacross_to_mm = 4\n"
          "surface_resistivity_ohm_sq = 1e9\n",
          "[[threads]]\nrun = \"sideways\"\npitch_mm = 5\nthread_mm = 1\nsurface_resistivity_ohm_sq = 1e9\n",
          "[[threads]]\nrun = \"along_the_clamps\"\npitch_mm = 5\nthread_mm = 5\n"
          "surface_resistivity_ohm_sq = 1e9\n",
          "[[threads]]\nrun = \"along_the_clamps\"\npitch_mm = 5\nthread_mm = 1\nfirst_mm = 6\n"
          "surface_resistivity_ohm_sq = 1e9\n",
          "leak_S_m2 = -1\n"})
        EXPECT_NE(fault(good + wrong), "") << wrong;
    EXPECT_NE(fault("schema = \"ebbtide.sheet_map/1\"\n"), "");
    EXPECT_NE(fault("width_mm = 40\n"), "");
}

}  // namespace
