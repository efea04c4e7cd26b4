#include "work/transcript_table.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "basis/instant.hpp"
#include "basis/number_text.hpp"
#include "paperwork/problems.hpp"
#include "recording/cells.hpp"
#include "recording/clock_time.hpp"
#include "recording/headings.hpp"

namespace ebbtide::work {
namespace {

using Cells = std::vector<std::string_view>;

enum class Column {
    material,
    lot,
    customer,
    method,
    specimen,
    tested,
    polarity,
    face,
    level,
    decay,
    u_decay,
    note,
    count
};
constexpr auto column_count = static_cast<std::size_t>(Column::count);

struct Spelling {
    std::string_view text;
    Column column;
};
/// In small letters, '_' as a blank and without the unit; the first of each column is its name.
constexpr std::array spellings{Spelling{"material", Column::material},
                               Spelling{"product", Column::material},
                               Spelling{"lot", Column::lot},
                               Spelling{"batch", Column::lot},
                               Spelling{"roll", Column::lot},
                               Spelling{"customer", Column::customer},
                               Spelling{"client", Column::customer},
                               Spelling{"method", Column::method},
                               Spelling{"test method", Column::method},
                               Spelling{"specimen", Column::specimen},
                               Spelling{"sample", Column::specimen},
                               Spelling{"tested", Column::tested},
                               Spelling{"date", Column::tested},
                               Spelling{"test date", Column::tested},
                               Spelling{"polarity", Column::polarity},
                               Spelling{"sign", Column::polarity},
                               Spelling{"face", Column::face},
                               Spelling{"side", Column::face},
                               Spelling{"level", Column::level},
                               Spelling{"decay level", Column::level},
                               Spelling{"decay", Column::decay},
                               Spelling{"decay time", Column::decay},
                               Spelling{"u decay", Column::u_decay},
                               Spelling{"u", Column::u_decay},
                               Spelling{"standard uncertainty", Column::u_decay},
                               Spelling{"note", Column::note},
                               Spelling{"notes", Column::note},
                               Spelling{"remark", Column::note},
                               Spelling{"remarks", Column::note}};

bool is_time(Column column) {
    return column == Column::decay || column == Column::u_decay;
}

std::optional<Column> column_named(std::string_view heading) {
    std::string plain = recording::lowered(heading);
    std::ranges::replace(plain, '_', ' ');
    const auto found = std::ranges::find(spellings, plain, &Spelling::text);
    return found == spellings.end() ? std::optional<Column>() : std::optional(found->column);
}

struct NamedColumn {
    Column column = Column::note;
    std::string heading;
    double factor_s = 1;     ///< of times: what one of the unit is in seconds
    std::string level_unit;  ///< of the level: "%", "V", behind bare numbers
};

/// What a heading names; nothing when that is unknown. Times carry a unit, which is read from it.
std::optional<NamedColumn> read_column(std::string_view text) {
    NamedColumn named;
    named.heading = std::string(text);
    if (const auto whole = column_named(text); whole && !is_time(*whole)) {
        named.column = *whole;
        return named;
    }
    const recording::Heading heading = recording::read_heading(text);
    const auto column = column_named(heading.name);
    if (!column || !heading.unit) return {};
    named.column = *column;
    if (is_time(*column) && heading.unit->dimension == recording::Dimension::time)
        named.factor_s = heading.unit->factor_to_SI;
    else if (*column == Column::level &&
             (heading.unit->text == "%" || heading.unit->text == "V" || heading.unit->text == "kV"))
        named.level_unit = heading.unit->text;
    else
        return {};
    return named;
}

std::string known_columns() {
    return "Columns are: material, lot, customer, method, specimen, tested, polarity, face, level, decay_s, "
           "u_decay_s, note";
}

struct TextLine {
    std::string_view text;
    int number = 0;
};

std::vector<TextLine> lines_of(std::string_view table) {
    const char end = table.find('\n') == std::string_view::npos ? '\r' : '\n';
    std::vector<TextLine> lines;
    for (int number = 1; !table.empty(); ++number) {
        const std::size_t at = std::min(table.find(end), table.size());
        const std::string_view text = recording::trimmed(table.substr(0, at));
        table.remove_prefix(std::min(at + 1, table.size()));
        // Spreadsheets write rows of nothing but delimiters where nothing was typed.
        if (text.find_first_not_of(",;\t \"") != std::string_view::npos) lines.push_back({text, number});
    }
    return lines;
}

/// The delimiter under which the first line names the most columns.
char delimiter_of(std::string_view headings) {
    char best = ',';
    std::ptrdiff_t most = -1;
    for (const char delimiter : {',', ';', '\t'}) {
        Cells cells;
        recording::split_cells(headings, delimiter, cells);
        const auto named =
            std::ranges::count_if(cells, [](std::string_view cell) { return read_column(cell).has_value(); });
        if (named > most) {
            most = named;
            best = delimiter;
        }
    }
    return best;
}

class Table {
  public:
    Table(std::vector<TextLine> lines, paperwork::Problems& problems)
        : lines_(std::move(lines)), problems_(problems) {
        if (lines_.empty()) {
            problems_.add(1, "holds nothing", "Give a table whose first line names its columns");
            return;
        }
        delimiter_ = delimiter_of(lines_[0].text);
        read_headings();
        if (problems_.any()) return;
        if (lines_.size() == 1) problems_.add(lines_[0].number, "has no rows under its headings", "");
        find_decimal_sign();
    }

    std::vector<TranscribedTime> rows() {
        std::vector<TranscribedTime> rows;
        for (std::size_t i = 1; i < lines_.size() && !problems_.full(); ++i) rows.push_back(row(lines_[i]));
        return rows;
    }

  private:
    void read_headings();
    void find_decimal_sign();
    TranscribedTime row(const TextLine& line);

    void wrong(const TextLine& line, Column column, const std::string& what, const std::string& remedy) {
        const std::size_t at = *places_[static_cast<std::size_t>(column)];
        problems_.add(line.number,
                      fmt::format("column {} '{}': '{}' {}", at + 1, columns_[at]->heading, cells_[at], what),
                      remedy);
    }
    [[nodiscard]] std::string_view cell(Column column) const {
        const auto& place = places_[static_cast<std::size_t>(column)];
        return place ? cells_[*place] : std::string_view();
    }
    [[nodiscard]] std::string text(Column column) const {
        std::string text(cell(column));
        for (std::size_t at = 0; (at = text.find("\"\"", at)) != std::string::npos; ++at) text.erase(at, 1);
        return text;
    }
    std::optional<double> time_s(const TextLine& line, Column column);
    std::string day(const TextLine& line);
    plan::Level level(const TextLine& line);

    std::vector<TextLine> lines_;
    paperwork::Problems& problems_;
    char delimiter_ = ',', decimal_sign_ = '.';
    std::vector<std::optional<NamedColumn>> columns_;
    std::array<std::optional<std::size_t>, column_count> places_{};
    Cells cells_;
};

void Table::read_headings() {
    const int line = lines_[0].number;
    recording::split_cells(lines_[0].text, delimiter_, cells_);
    for (std::size_t i = 0; i < cells_.size(); ++i) {
        columns_.push_back(read_column(cells_[i]));
        if (!columns_[i] && cells_[i].empty()) continue;
        if (!columns_[i]) {
            const auto bare = column_named(recording::read_heading(cells_[i]).name);
            if (bare && is_time(*bare))
                problems_.add(line, fmt::format("column {} '{}' states no unit of time", i + 1, cells_[i]),
                              "Write it behind the name: decay_s, or decay time (ms)");
            else
                problems_.add(line, fmt::format("column {} '{}' is not known", i + 1, cells_[i]),
                              known_columns() + "; leave it out, or call it note");
            continue;
        }
        auto& place = places_[static_cast<std::size_t>(columns_[i]->column)];
        if (place)
            problems_.add(line, fmt::format("columns {} and {} name the same", *place + 1, i + 1),
                          "Leave one out");
        place = i;
    }
    for (const auto& [column, name] :
         {std::pair{Column::material, "material"}, std::pair{Column::tested, "tested"},
          std::pair{Column::level, "level"}, std::pair{Column::decay, "decay_s"}})
        if (!places_[static_cast<std::size_t>(column)])
            problems_.add(line, fmt::format("no column '{}'", name), known_columns());
}

/// Between commas the decimal sign is a point: a comma within a number would stand between thousands. Else it
/// is the comma as soon as one number has it.
void Table::find_decimal_sign() {
    if (delimiter_ == ',') return;
    for (std::size_t i = 1; i < lines_.size(); ++i) {
        recording::split_cells(lines_[i].text, delimiter_, cells_);
        if (cells_.size() < columns_.size()) continue;
        for (const Column column : {Column::level, Column::decay, Column::u_decay})
            if (cell(column).find(',') != std::string_view::npos) decimal_sign_ = ',';
    }
}

std::optional<double> Table::time_s(const TextLine& line, Column column) {
    double value = 0;
    const auto kind = recording::read_cell(cell(column), decimal_sign_, value);
    const double factor_s = columns_[*places_[static_cast<std::size_t>(column)]]->factor_s;
    if (kind != recording::CellKind::number) {
        const std::string_view cell = this->cell(column);
        const bool bound = !cell.empty() && (cell[0] == '<' || cell[0] == '>');
        wrong(line, column,
              bound ? std::string("is a bound, no measured time")
                    : fmt::format("is no number with a decimal {}", decimal_sign_ == ',' ? "comma" : "point"),
              bound ? "Leave the row out: only measured times are transcribed" : "Write it like 0.412");
        return {};
    }
    if (!(value > 0)) {
        wrong(line, column, "is not above zero", "Give the time that was read, in the unit of the heading");
        return {};
    }
    return value * factor_s;
}

std::string Table::day(const TextLine& line) {
    const auto clock = recording::read_clock_time(cell(Column::tested));
    if (clock && clock->day) return iso_text(date_of(Instant{*clock->day * 86'400'000'000'000}));
    wrong(line, Column::tested, "is no day that can be told", "Write 2026-03-14, or 14.03.2026");
    return {};
}

plan::Level Table::level(const TextLine& line) {
    std::string text(cell(Column::level));
    if (decimal_sign_ == ',') std::ranges::replace(text, ',', '.');
    const NamedColumn& named = *columns_[*places_[static_cast<std::size_t>(Column::level)]];
    if (!named.level_unit.empty() && parse_number(text)) text += " " + named.level_unit;
    const auto level = plan::parse_level(text);
    if (level && level->value > 0) return *level;
    wrong(line, Column::level, "is no decay level above zero", "Write 0.1, 10%, 1/e or 500 V");
    return {};
}

TranscribedTime Table::row(const TextLine& line) {
    TranscribedTime row;
    row.row = line.number;
    recording::split_cells(line.text, delimiter_, cells_);
    const bool too_many = cells_.size() > columns_.size() &&
                          std::any_of(cells_.begin() + static_cast<std::ptrdiff_t>(columns_.size()),
                                      cells_.end(), [](std::string_view cell) { return !cell.empty(); });
    if (too_many) {
        problems_.add(line.number,
                      fmt::format("has {} cells under {} headings", cells_.size(), columns_.size()),
                      "Put a text that holds the delimiter between double quotes");
        return row;
    }
    cells_.resize(columns_.size());
    for (std::size_t i = 0; i < columns_.size(); ++i)
        if (!columns_[i] && !cells_[i].empty())
            problems_.add(line.number,
                          fmt::format("column {}: '{}' stands under no heading", i + 1, cells_[i]),
                          "Name the column, or empty the cell");
    row.material = text(Column::material);
    if (row.material.empty())
        wrong(line, Column::material, "names no material", "A time without it is found by nobody");
    row.lot = text(Column::lot);
    row.customer = text(Column::customer);
    row.method = text(Column::method);
    row.specimen = text(Column::specimen);
    row.polarity = text(Column::polarity);
    row.face = text(Column::face);
    row.note = text(Column::note);
    row.tested = day(line);
    row.level = level(line);
    row.decay_s = time_s(line, Column::decay).value_or(0);
    if (!cell(Column::u_decay).empty()) row.u_decay_s = time_s(line, Column::u_decay);
    return row;
}

}  // namespace

Result<std::vector<TranscribedTime>> read_transcript_table(std::string_view table, const std::string& name) {
    paperwork::Problems problems;
    Table read(lines_of(table), problems);
    if (problems.any()) return problems.error(name);
    auto rows = read.rows();
    if (problems.any()) return problems.error(name);
    return rows;
}

}  // namespace ebbtide::work
