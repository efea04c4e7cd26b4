// The parts that set a report: axes, columns, pages, text that is fit to print.

#include <gtest/gtest.h>
#include <rapidcheck.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "report/column_widths.hpp"
#include "report/pages.hpp"
#include "report/printable_text.hpp"
#include "report/scale.hpp"
#include "report/text_layout.hpp"
#include "report/words.hpp"

namespace {

using namespace ebbtide;
using report::Scale;

std::vector<std::string> texts(const Scale& scale, int most) {
    std::vector<std::string> out;
    for (const report::Tick& tick : scale.ticks(most)) out.push_back(tick.text);
    return out;
}

TEST(Axis, WritesRoundNumbersWithTheSamePlaces) {
    using Texts = std::vector<std::string>;
    EXPECT_EQ(texts(Scale(Scale::Kind::linear, 0, 0.59, 0, 100), 8),
              (Texts{"0.0", "0.1", "0.2", "0.3", "0.4", "0.5"}));
    EXPECT_EQ(texts(Scale(Scale::Kind::linear, -0.08, 5.3, 0, 100), 5), (Texts{"0", "2", "4"}));
    EXPECT_EQ(texts(Scale(Scale::Kind::linear, 0, 130, 0, 100), 6), (Texts{"0", "50", "100"}));
    EXPECT_EQ(texts(Scale(Scale::Kind::logarithmic, 3, 130, 0, 100), 5),
              (Texts{"5", "10", "20", "50", "100"}));
    EXPECT_EQ(texts(Scale(Scale::Kind::logarithmic, 0.003, 40, 0, 100), 8),
              (Texts{"0.01", "0.1", "1", "10"}));
    EXPECT_EQ(texts(Scale(Scale::Kind::logarithmic, 0.34, 0.62, 0, 100), 8),
              (Texts{"0.35", "0.40", "0.45", "0.50", "0.55", "0.60"}));
}

TEST(Axis, PutsEveryTickOnItself) {
    EXPECT_TRUE(rc::check([](std::int32_t thousandths, std::uint32_t millionths) {
        const double low = thousandths / 1000.0;
        const double high = low + (millionths + 1.0) * 1e-6 * (1 + std::abs(low));
        const Scale scale(Scale::Kind::linear, low, high, 10, 110);
        const auto ticks = scale.ticks(8);
        RC_ASSERT(!ticks.empty());
        RC_ASSERT(ticks.size() <= 10);
        for (const report::Tick& tick : ticks) {
            RC_ASSERT(scale.at(tick.value) >= 10 - 1e-3);
            RC_ASSERT(scale.at(tick.value) <= 110 + 1e-3);
        }
    }));
}

TEST(Axis, RefusesARangeThatIsNone) {
    EXPECT_THROW(Scale(Scale::Kind::linear, 1, 1, 0, 1), std::invalid_argument);
    EXPECT_THROW(Scale(Scale::Kind::linear, 0, HUGE_VAL, 0, 1), std::invalid_argument);
    EXPECT_THROW(Scale(Scale::Kind::logarithmic, 0, 1, 0, 1), std::invalid_argument);
}

TEST(Columns, ShareTheRoomThereIs) {
    EXPECT_TRUE(rc::check([](const std::vector<std::pair<std::uint8_t, std::uint8_t>>& sizes) {
        RC_PRE(!sizes.empty());
        std::vector<report::ColumnNeed> needs;
        for (const auto& [least, more] : sizes)
            needs.push_back({1.0 + least, 1.0 + least + more, more % 2 == 0});
        const auto widths = report::share_room(needs, 499);
        RC_ASSERT(widths.size() == needs.size());
        const double sum = std::accumulate(widths.begin(), widths.end(), 0.0);
        RC_ASSERT(sum < 499.5);
        if (std::ranges::any_of(needs, &report::ColumnNeed::elastic)) RC_ASSERT(sum > 498.5);
        for (std::size_t i = 0; i < widths.size(); ++i) {
            RC_ASSERT(widths[i] > 0);
            if (report::least_fits(needs, 499)) RC_ASSERT(widths[i] >= needs[i].least - 1e-9);
        }
    }));
}

report::Strip strip_of(double height, bool keep = false) {
    report::Strip strip;
    strip.height = height;
    strip.keep_with_next = keep;
    return strip;
}

TEST(Pages, LeaveNoHeadingAloneAtTheFoot) {
    const std::vector<report::Strip> strips{strip_of(80), strip_of(10, true), strip_of(20)};
    const auto pages = report::paginate(strips, 100);
    ASSERT_EQ(pages.size(), 2U);
    EXPECT_EQ(pages[0].size(), 1U);
    EXPECT_EQ(pages[1][0].strip, &strips[1]);
}

TEST(Pages, RepeatTheHeadOfATableThatGoesOn) {
    const auto head = std::make_shared<report::Strip>(strip_of(10, true));
    std::vector<report::Strip> strips{*head};
    for (int i = 0; i < 10; ++i) {
        strips.push_back(strip_of(20));
        strips.back().head = head;
    }
    const auto pages = report::paginate(strips, 100);
    ASSERT_EQ(pages.size(), 3U);
    EXPECT_EQ(pages[0].size(), 5U);
    for (std::size_t i = 1; i < pages.size(); ++i) {
        EXPECT_EQ(pages[i][0].strip, head.get());
        EXPECT_EQ(pages[i][1].y, 10);
    }
}

TEST(Pages, BreakWhatCouldNotStandTogetherOnAnyPage) {
    std::vector<report::Strip> strips;
    for (int i = 0; i < 20; ++i) strips.push_back(strip_of(20, true));
    const auto pages = report::paginate(strips, 100);
    EXPECT_EQ(pages.size(), 4U);
}

TEST(Pages, HoldEveryStripOnceAndInOrder) {
    EXPECT_TRUE(rc::check([](const std::vector<std::pair<std::uint8_t, bool>>& heights) {
        std::vector<report::Strip> strips;
        for (const auto& [height, keep] : heights) strips.push_back(strip_of(height / 3.0, keep));
        const auto pages = report::paginate(strips, 100);
        std::size_t next = 0;
        for (const report::Page& page : pages)
            for (const report::PlacedStrip& placed : page) {
                RC_ASSERT(placed.strip == &strips[next++]);
                RC_ASSERT(placed.y + placed.strip->height <= 100 + 1e-9);
            }
        RC_ASSERT(next == strips.size());
    }));
}

TEST(PrintableText, KeepsWordsOfAnyScriptAndShowsWhatItTakesAway) {
    EXPECT_EQ(report::printable("10 µs, π, Łódź\n2"), "10 µs, π, Łódź\n2");
    EXPECT_EQ(report::printable("a\tb\r\nc"), "a b\nc");
    EXPECT_EQ(report::printable(std::string_view("\0", 1)), "\xEF\xBF\xBD");
    EXPECT_EQ(report::printable("\xC0\xAF"), "\xEF\xBF\xBD\xEF\xBF\xBD") << "overlong";
    EXPECT_EQ(report::printable("\xE2\x80\xAEx"), "\xEF\xBF\xBDx");
    EXPECT_EQ(report::printable("\xED\xA0\x80"), "\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD")
        << "half a surrogate";
}

TEST(PrintableText, IsValidWhateverComesIn) {
    EXPECT_TRUE(rc::check([](const std::vector<std::uint8_t>& bytes) {
        const std::string text(bytes.begin(), bytes.end());
        const std::string once = report::printable(text);
        RC_ASSERT(report::printable(once) == once);
        for (const char c : once) RC_ASSERT(c == '\n' || static_cast<unsigned char>(c) >= 0x20);
    }));
}

TEST(PrintableText, KeepsANumberWithItsUnitAndItsComparison) {
    const std::string space = "\xC2\xA0";
    EXPECT_EQ(report::bound_together("0.47 s ± 0.04 s meets < 0.5 s: 7 %", false),
              "0.47" + space + "s ±" + space + "0.04" + space + "s meets <" + space + "0.5" + space + "s: 7" +
                  space + "%");
    EXPECT_EQ(report::bound_together("0.470(4) s", false), "0.470(4)" + space + "s");
    for (const char* free : {"5 samples of 3 Vessels", "the rest is a small part", "2 sé", "< none"})
        EXPECT_EQ(report::bound_together(free, false), free);
}

TEST(Typesetter, WithoutItsFontSaysWhichPackageToInstall) {
    const auto typesetter = report::Typesetter::open("/no/such/folder");
    ASSERT_FALSE(typesetter.ok());
    EXPECT_EQ(typesetter.error().code, Fault::unreadable);
    EXPECT_EQ(typesetter.error().where, "/no/such/folder/Inter-Regular.otf");
    EXPECT_NE(typesetter.error().remedy.find("fonts-inter"), std::string::npos);
}

TEST(Typesetter, SetsFiguresOfOneWidth) {
    const auto typesetter = report::Typesetter::open().value();
    EXPECT_EQ(typesetter.set("0.1111", {}).width(), typesetter.set("0.8888", {}).width());
    EXPECT_GT(typesetter.set("one two three", {}, 30.0).line_count(), 1U);
}

TEST(Words, JoinNumbersIntoRanges) {
    EXPECT_EQ(report::ranges_text({3, 1, 2, 2}), "1 to 3");
    EXPECT_EQ(report::ranges_text({1, 2, 5}), "1, 2, 5");
    EXPECT_EQ(report::ranges_text({4}), "4");
}

TEST(Words, ChooseAPrefixForSmallAndLargeNumbers) {
    EXPECT_EQ(report::prefixed_text(0.0004, 2, "s"), "400 µs");
    EXPECT_EQ(report::prefixed_text(0.012, 2, "s"), "12 ms");
    EXPECT_EQ(report::prefixed_text(6, 2, "V"), "6.0 V");
    EXPECT_EQ(report::prefixed_text(0, 2, "V"), "0 V");
    EXPECT_EQ(report::prefixed_text(-2.5e-5, 2, "s/V"), "-25 µs/V");
}

}  // namespace
