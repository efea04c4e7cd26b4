// Any table, written in any dialect, reads back as the same numbers.

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>

#include "basis/number_text.hpp"
#include "recording/reading.hpp"

namespace ebbtide::recording {

using testing_support::as_utf16;
using testing_support::read;
using testing_support::Reading;

namespace {

struct Table {
    std::vector<double> time_s, specimen_V, electrode_V;
};

struct Dialect {
    char delimiter;
    char decimal_sign;
    std::string line_end;
    int encoding;  // 0 plain, 1 mark, 2 to 5 UTF-16
    int headings;  // 0 names with units, 1 units in a row, 2 behind a comment sign
    int lines_above;
    bool words;  // a column of states
    bool last_line_end;
    int digits;  // 0: shortest
};

Table any_table() {
    Table table;
    const int rows = *rc::gen::inRange(3, 60);
    double time_s = *rc::gen::inRange(-100, 100) * 0.25;
    for (int i = 0; i < rows; ++i) {
        table.time_s.push_back(time_s);
        time_s += *rc::gen::inRange(90, 110) * 0.001;
        table.specimen_V.push_back(*rc::gen::inRange(-6'000'000, 6'000'000) / 1024.0);
        table.electrode_V.push_back(*rc::gen::inRange(-6'000'000, 6'000'000) * 1e-3);
    }
    return table;
}

Dialect any_dialect() {
    Dialect d;
    const auto [delimiter, sign] = *rc::gen::elementOf(std::vector<std::pair<char, char>>{
        {',', '.'}, {';', '.'}, {';', ','}, {'\t', '.'}, {'\t', ','}, {' ', '.'}, {' ', ','}});
    d.delimiter = delimiter;
    d.decimal_sign = sign;
    d.line_end = *rc::gen::elementOf(std::vector<std::string>{"\n", "\r\n", "\r"});
    d.encoding = *rc::gen::inRange(0, 6);
    d.headings = *rc::gen::inRange(0, 3);
    d.lines_above = *rc::gen::inRange(0, 12);
    d.words = *rc::gen::arbitrary<bool>();
    d.last_line_end = *rc::gen::arbitrary<bool>();
    d.digits = *rc::gen::elementOf(std::vector<int>{0, 17});
    return d;
}

std::string written(const Table& table, const Dialect& d) {
    std::string text;
    const auto number = [&d](double value) {
        std::string out = d.digits == 0 ? shortest_text(value) : fmt::format("{:.{}g}", value, d.digits);
        std::ranges::replace(out, '.', d.decimal_sign);
        return out;
    };
    const auto line = [&](std::vector<std::string> cells) {
        for (std::size_t i = 0; i < cells.size(); ++i) {
            if (i > 0) text += d.delimiter;
            text += cells[i];
        }
        text += d.line_end;
    };
    for (int i = 0; i < d.lines_above; ++i)
        text += fmt::format("Setting {}: {} of ours{}", i, i * 7, d.line_end);
    const std::string sign = d.headings == 2 ? "# " : "";
    std::vector<std::string> names = {sign + "time", "specimen", "electrode"}, units = {"(s)", "(V)", "(V)"};
    if (d.headings != 1)
        for (std::size_t i = 0; i < names.size(); ++i)
            names[i] += d.delimiter == ' ' ? "_" + units[i].substr(1, 1) : " " + units[i];
    if (d.words) names.emplace_back("state");
    if (d.words) units.emplace_back("-");
    line(names);
    if (d.headings == 1) line(units);
    for (std::size_t i = 0; i < table.time_s.size(); ++i) {
        std::vector<std::string> cells = {number(table.time_s[i]), number(table.specimen_V[i]),
                                          number(table.electrode_V[i])};
        if (d.words) cells.emplace_back(i % 3 == 0 ? "charging" : "hold");
        line(cells);
    }
    if (!d.last_line_end) text.resize(text.size() - d.line_end.size());
    if (d.encoding == 1) text = "\xEF\xBB\xBF" + text;
    if (d.encoding >= 2) text = as_utf16(text, d.encoding % 2 == 1, d.encoding >= 4);
    return text;
}

}  // namespace

RC_GTEST_PROP(AnyDialect, ReadsBackTheSameNumbers, ()) {
    const Table table = any_table();
    const Dialect dialect = any_dialect();
    const std::string text = written(table, dialect);
    RC_LOG() << text << '\n';
    const Reading r = read(text);
    RC_ASSERT(!r.error);
    RC_LOG() << r.description.dialect << '\n';
    RC_ASSERT(r.segments.size() == 1u);
    // A last number that came out shorter than all others may be a cut one: then it must have been told.
    const std::size_t torn = r.count(trace::Notice::Kind::torn_last_line);
    RC_ASSERT(torn == 0 || (!dialect.last_line_end && !dialect.words));
    RC_ASSERT(r.notices.size() == torn);
    Table expected = table;
    for (auto* column : {&expected.time_s, &expected.specimen_V, &expected.electrode_V})
        column->resize(column->size() - torn);
    RC_ASSERT(r.specimen().time_s == expected.time_s);
    RC_ASSERT(r.specimen().value == expected.specimen_V);
    RC_ASSERT(r.only(trace::Quantity::electrode_voltage).value == expected.electrode_V);
}

// Nothing that the bytes hold may bring the reader down, or let through a number that is none.
RC_GTEST_PROP(AnyBytes, GiveAnAnswerOrAnError, ()) {
    const std::string alphabet = "0123456789.,;\t \n\r\"eE+-:#%/naifVtskm()[]_\xB0\0x";
    const auto picks = *rc::gen::container<std::vector<std::size_t>>(rc::gen::inRange<std::size_t>(0, 44));
    std::string text =
        *rc::gen::elementOf(std::vector<std::string>{"", "time_s,voltage_V\n0,1\n1,2\n", "0 1\n1 2\n"});
    for (const std::size_t pick : picks) text += alphabet[std::min(pick, alphabet.size() - 1)];
    ReadOptions options;
    if (*rc::gen::arbitrary<bool>()) options.sample_interval_s = 0.1;
    const Reading r = read(text, options);
    if (r.error) {
        RC_ASSERT(!r.error->what.empty() && !r.error->remedy.empty());
        return;
    }
    for (const auto& segment : r.segments)
        for (const ChannelBlock& channel : segment.channels) {
            RC_ASSERT(std::ranges::is_sorted(channel.time_s));
            for (const double value : channel.value) RC_ASSERT(std::isfinite(value));
            for (const double time_s : channel.time_s) RC_ASSERT(std::isfinite(time_s));
        }
}

}  // namespace ebbtide::recording
