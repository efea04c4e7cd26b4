#include "recording/delimited_text.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <limits>

#include <fmt/format.h>

#include "recording/block_notices.hpp"
#include "recording/cells.hpp"
#include "recording/channels.hpp"
#include "recording/dialect.hpp"
#include "recording/layout.hpp"
#include "recording/not_text.hpp"
#include "recording/plain_rows.hpp"
#include "recording/text_lines.hpp"
#include "recording/time_axis.hpp"

namespace ebbtide::recording {

namespace {

using trace::Notice;
using Kind = Notice::Kind;

// Numbers a block holds: its memory stays the same for two columns and for ten thousand.
constexpr std::size_t numbers_a_block = std::size_t{1} << 16;
constexpr std::size_t lines_a_block = 4096;
constexpr std::size_t metadata_kept = 1000;

/// What to do with each column, up to the last that is used.
std::vector<ColumnStep> column_steps(const ChannelPlan& plan) {
    std::vector<ColumnStep> columns;
    const auto use = [&columns](int column, ColumnStep::Use how) {
        if (column < 0) return;
        const auto at = static_cast<std::size_t>(column);
        if (columns.size() <= at) columns.resize(at + 1);
        columns[at].use = how;
    };
    for (const ChannelColumn& channel : plan.channels) use(channel.column, ColumnStep::Use::number);
    for (const TimeAxis& axis : plan.axes) {
        use(axis.column, axis.clock ? ColumnStep::Use::clock : ColumnStep::Use::number);
        use(axis.time_of_day_column, ColumnStep::Use::clock);
    }
    return columns;
}

class DelimitedText final : public Source {
  public:
    DelimitedText(TextLines lines, Layout layout, ChannelPlan plan, Description description)
        : lines_(std::move(lines)),
          layout_(std::move(layout)),
          plain_(layout_, column_steps(plan), plan.channels),
          columns_(plain_.columns()),
          channels_(std::move(plan.channels)),
          description_(std::move(description)) {
        for (const TimeAxis& axis : plan.axes) axes_.emplace_back(axis);
        row_.resize(columns_.size());
        cell_is_.resize(columns_.size());
        axis_time_s_.resize(axes_.size());
        axis_is_.resize(axes_.size());
        const std::size_t numbers = 2 * std::max<std::size_t>(1, channels_.size());
        most_lines_ = std::clamp<std::size_t>(numbers_a_block / numbers, 1, lines_a_block);
        lines_.start(layout_.data_at, layout_.data_line, layout_.line_end);
        find_origin();
    }

    const Description& description() const override { return description_; }
    std::string sha256() override { return lines_.bytes().sha256(); }
    std::uint64_t bytes() const override { return lines_.bytes().taken(); }

    Result<bool> next(Block& block) override {
        clear(block);
        for (;;) {
            while (lines_.begin() != lines_.end()) {
                read_plain_rows(block);
                if (samples_ == most_lines_) return true;
                if (lines_.begin() == lines_.end()) break;
                const char* p = lines_.begin();
                row_is_whole_ = plain_.read_line(p, row_.data());
                bool is_row = row_is_whole_;
                if (!is_row) {
                    const char* const line = lines_.begin();
                    const auto room = static_cast<std::size_t>(lines_.end() - line);
                    p = static_cast<const char*>(std::memchr(line, layout_.line_end, room));
                    is_row = read_any_line({line, static_cast<std::size_t>(p - line)}, false);
                    ++p;
                }
                if (is_row && !accept_row(block)) return true;
                lines_.advance(p);
            }
            // What has come is handed on before waiting for more.
            if (samples_ > 0) return true;
            const Result<bool> more = lines_.refill();
            if (!more) return more.error();
            if (lines_.bytes().lost() > lost_) {
                note_loss();
                return true;
            }
            if (*more) continue;
            if (!tail_read_) {
                if (const bool is_row = read_tail(); is_row && !accept_row(block)) return true;
                tail_read_ = true;
                append_notices();
            }
            return samples_ > 0 || !block.notices.empty();
        }
    }

  private:
    /// Where samples are counted instead of timed, those after a loss belong to no run from before it.
    void note_loss() {
        note(Kind::samples_lost, 0,
             fmt::format("{} bytes came faster than they were read and were not kept",
                         lines_.bytes().lost() - lost_));
        append_notices();
        lost_ = lines_.bytes().lost();
        if (axes_[0].axis().column >= 0) return;
        for (AxisFollower& axis : axes_) axis.start_segment();
        starts_segment_ = true;
    }

    void read_plain_rows(Block& block) {
        if (axes_.size() != 1 || axes_[0].axis().clock || !axes_[0].started() || starts_segment_ ||
            text_lines_ > 0)
            return;
        const std::size_t lines = plain_.read(lines_, axes_[0], index_, most_lines_ - samples_, block);
        samples_ += lines;
        index_ += lines;
    }

    // ---- the long way: says of each cell what it is ----

    // True when the line is one of numbers, which are then in row_, their states in cell_is_.
    bool read_any_line(std::string_view line, bool is_tail) {
        row_notices_.clear();
        line = trimmed(line);
        if (line.empty()) return false;
        if (is_comment(line, layout_.delimiter)) return set_text_aside(line);
        split_cells(line, layout_.delimiter, cells_);
        std::size_t values = 0, stand_ins = 0, words = 0;
        for (std::size_t i = 0; i < columns_.size(); ++i) {
            cell_is_[i] = CellKind::empty;
            if (columns_[i].use == ColumnStep::Use::skip || i >= cells_.size()) continue;
            cell_is_[i] = read_cell(cells_[i], layout_.decimal_sign, row_[i]);
            const bool wanted = columns_[i].use == ColumnStep::Use::clock ? cell_is_[i] == CellKind::clock
                                                                          : cell_is_[i] == CellKind::number;
            values += wanted ? 1 : 0;
            stand_ins += cell_is_[i] == CellKind::no_value ? 1 : 0;
            words += cell_is_[i] == CellKind::text ? 1 : 0;
        }
        if (is_tail && is_cut(line)) {
            note(Kind::torn_last_line, 0, fmt::format("the file ends within '{}'", shown(line)));
            return false;
        }
        if (values + stand_ins == 0 && (words > 0 || cells_.size() < columns_.size()))
            return set_text_aside(line);
        const int time_column = axes_[0].axis().column;
        if (time_column >= 0 && cell_is_[static_cast<std::size_t>(time_column)] == CellKind::text) {
            const char first = cells_[static_cast<std::size_t>(time_column)][0];
            if ((first >= 'A' && first <= 'Z') || (first >= 'a' && first <= 'z')) return set_text_aside(line);
        }
        return find_faults();
    }

    // Marks what is missing; false when no channel is left with a sample.
    bool find_faults() {
        const std::size_t most = layout_.columns.size();
        if (cells_.size() > most &&
            std::any_of(cells_.begin() + static_cast<std::ptrdiff_t>(most), cells_.end(),
                        [](std::string_view cell) { return !cell.empty(); })) {
            note(Kind::value_missing, static_cast<int>(most) + 1,
                 fmt::format("the line has {} cells instead of {}", cells_.size(), most));
            // Which cell is the one too many cannot be known.
            std::ranges::fill(axis_is_, false);
            return true;
        }
        for (std::size_t a = 0; a < axes_.size(); ++a) axis_is_[a] = axis_is_whole(a);
        for (const ChannelColumn& channel : channels_) {
            const auto at = static_cast<std::size_t>(channel.column);
            if (cell_is_[at] == CellKind::number || !axis_is_[channel.axis]) continue;
            if (cell_is_[at] == CellKind::empty && channel.may_be_empty && axes_.size() == 1) continue;
            note_missing(at);
        }
        return true;
    }

    bool axis_is_whole(std::size_t a) {
        const TimeAxis& axis = axes_[a].axis();
        if (axis.column < 0) return true;
        const CellKind wanted = axis.clock ? CellKind::clock : CellKind::number;
        for (const int column : {axis.column, axis.time_of_day_column}) {
            if (column < 0) continue;
            const auto at = static_cast<std::size_t>(column);
            if (cell_is_[at] == wanted) continue;
            // A channel with a time of its own may have ended before the others.
            const bool ended =
                cell_is_[at] == CellKind::empty && axes_.size() > 1 &&
                std::ranges::all_of(channels_, [&](const ChannelColumn& channel) {
                    return channel.axis != a ||
                           cell_is_[static_cast<std::size_t>(channel.column)] == CellKind::empty;
                });
            if (!ended) note_missing(at);
            return false;
        }
        return true;
    }

    void note_missing(std::size_t column) {
        std::string text = column >= cells_.size() ? "the line ends before this column"
                           : cells_[column].empty()
                               ? "the cell is empty"
                               : fmt::format("the cell holds '{}'", shown(cells_[column]));
        note(Kind::value_missing, static_cast<int>(column) + 1, std::move(text));
    }

    static std::string shown(std::string_view text) { return readable(text.substr(0, 40)); }

    // The last line has no line end: a cell may be missing, or the end of a number.
    bool is_cut(std::string_view line) const {
        const std::size_t have = cells_.size();
        std::size_t needed = columns_.size();
        while (needed > 0 && (columns_[needed - 1].use == ColumnStep::Use::skip || may_be_empty(needed - 1)))
            --needed;
        if (have < needed) return line[0] != '\0' ? cell_is_[0] != CellKind::text : true;
        if (line.find('\0') != std::string_view::npos) return true;
        const std::size_t end = have - 1;
        if (end >= columns_.size() || columns_[end].use != ColumnStep::Use::number) return false;
        const std::string_view cell = cells_[end];
        if (cell.empty()) return !may_be_empty(end);
        if (std::strchr("+-eE", cell.back()) != nullptr) return true;
        const std::size_t point = cell.find(layout_.decimal_sign);
        if (cell.find_first_of("eE") != std::string_view::npos) return false;
        const std::size_t decimals = point == std::string_view::npos ? 0 : cell.size() - point - 1;
        return decimals < static_cast<std::size_t>(layout_.fewest_decimals[end]);
    }

    bool may_be_empty(std::size_t column) const {
        return std::ranges::any_of(channels_, [column](const ChannelColumn& channel) {
            return static_cast<std::size_t>(channel.column) == column && channel.may_be_empty;
        });
    }

    bool read_tail() {
        row_is_whole_ = false;
        const std::string_view tail = lines_.tail();
        if (lines_.tail_is_zeros()) {
            row_notices_.clear();
            note(Kind::torn_last_line, 0, "the file ends in zero bytes");
            return false;
        }
        return read_any_line(tail, true);
    }

    // Text between the numbers; whether it parts two segments shows at the next line of numbers.
    bool set_text_aside(std::string_view line) {
        if (text_lines_ == 0) {
            text_.kind = Kind::text_between;
            text_.line = lines_.line();
            text_.text = fmt::format("'{}'", shown(line));
        }
        text_.count = ++text_lines_;
        if (description_.metadata.size() < metadata_kept)
            if (const std::size_t at = line.find_first_of(":=;\t,"); at != std::string_view::npos && at > 0)
                description_.metadata.emplace_back(
                    readable(trimmed(line.substr(0, std::min<std::size_t>(at, 200)))),
                    readable(trimmed(line.substr(at + 1, 1000))));
        return false;
    }

    // ---- samples ----

    // Adds the row to the block; false when it begins a segment and the block holds samples of the one
    // before.
    bool accept_row(Block& block) {
        if (find_times()) {
            for (AxisFollower& axis : axes_) axis.start_segment();
            text_lines_ = 0;
            starts_segment_ = true;
            if (samples_ > 0) {
                row_notices_.clear();  // the line will be read again
                return false;
            }
        }
        if (starts_segment_) {
            block.starts_segment = true;
            starts_segment_ = false;
            if (backwards_column_ > 0) note(Kind::time_backwards, backwards_column_, "time runs backwards");
            backwards_column_ = 0;
            // There is no sample before it in this segment.
            for (Notice& notice : row_notices_) notice.time_s = axis_time_s_[0];
        }
        if (text_lines_ > 0) {
            text_.time_s = axes_[0].last_s();
            notices_.add(text_);
            text_lines_ = 0;
        }
        for (std::size_t a = 0; a < axes_.size(); ++a) step(a);
        add_values(block);
        if (!row_notices_.empty()) append_notices();
        ++samples_;
        ++index_;
        return true;
    }

    // Times of the row on each axis; true when one of them starts again.
    bool find_times() {
        using Step = AxisFollower::Step;
        bool again = false;
        for (std::size_t a = 0; a < axes_.size(); ++a) {
            const TimeAxis& axis = axes_[a].axis();
            if (row_is_whole_) axis_is_[a] = true;
            if (!axis_is_[a]) continue;
            double& time_s = axis_time_s_[a];
            if (axis.column < 0)
                time_s = axes_[a].seconds(static_cast<double>(index_));
            else if (!axis.clock)
                time_s = axes_[a].seconds(row_[static_cast<std::size_t>(axis.column)]);
            else
                time_s = clock_seconds(axes_[a]);
            if (!std::isfinite(time_s)) {
                note(Kind::value_missing, axis.column + 1, "the time is beyond the largest number");
                axis_is_[a] = false;
                continue;
            }
            const Step step = axes_[a].step_to(time_s);
            if (step == Step::backwards) backwards_column_ = axis.column + 1;
            again = again || step == Step::backwards || step == Step::restart;
        }
        return again;
    }

    void step(std::size_t a) {
        if (!axis_is_[a]) return;
        AxisFollower& axis = axes_[a];
        const double time_s = axis_time_s_[a];
        using Step = AxisFollower::Step;
        const Step step = axis.step_to(time_s);
        if (step == Step::gap || step == Step::same) {
            Notice notice;
            notice.kind = step == Step::gap ? Kind::time_gap : Kind::time_repeated;
            notice.line = lines_.line();
            notice.column = axis.axis().column + 1;
            notice.time_s = axis.last_s();
            if (!notices_.counted(notice.kind, notice.column)) {
                notice.text = step == Step::gap
                                  ? fmt::format("{:.6g} s without a sample", time_s - axis.last_s())
                                  : "two samples at one time";
                notices_.add(std::move(notice));
            }
        }
        axis.accept(time_s);
    }

    void add_values(Block& block) {
        for (std::size_t c = 0; c < channels_.size(); ++c) {
            const ChannelColumn& channel = channels_[c];
            const auto at = static_cast<std::size_t>(channel.column);
            if (!axis_is_[channel.axis] || (!row_is_whole_ && cell_is_[at] != CellKind::number)) continue;
            const double value = row_[at] * channel.description.factor_to_SI;
            if (!std::isfinite(value)) {
                note(Kind::value_missing, channel.column + 1, "the value is beyond the largest number");
                continue;
            }
            block.channels[c].time_s.push_back(axis_time_s_[channel.axis]);
            block.channels[c].value.push_back(value);
        }
    }

    double clock_seconds(AxisFollower& follower) {
        const TimeAxis& axis = follower.axis();
        ClockTime clock =
            read_clock_time(cells_[static_cast<std::size_t>(axis.column)]).value_or(ClockTime{});
        if (axis.time_of_day_column >= 0) {
            const auto second = read_clock_time(cells_[static_cast<std::size_t>(axis.time_of_day_column)])
                                    .value_or(ClockTime{});
            // Either may be the date.
            if (!clock.day) clock.day = second.day;
            if (second.has_time) clock.second_of_day = second.second_of_day;
            clock.has_time = clock.has_time || second.has_time;
            if (!clock.zone_minutes) clock.zone_minutes = second.zone_minutes;
        }
        return follower.seconds(clock);
    }

    // The first line of numbers states the absolute time, if any does.
    void find_origin() {
        if (!axes_[0].axis().clock) return;
        const std::string_view rest(lines_.begin(), lines_.tail().size());
        split_cells(rest.substr(0, rest.find(layout_.line_end)), layout_.delimiter, cells_);
        if (cells_.size() < columns_.size()) return;
        if (!read_clock_time(cells_[static_cast<std::size_t>(axes_[0].axis().column)])) return;
        clock_seconds(axes_[0]);
        description_.origin = axes_[0].origin();
    }

    // ---- notices ----

    void note(Kind kind, int column, std::string text) {
        Notice notice;
        notice.kind = kind;
        notice.line = lines_.line();
        notice.column = column;
        notice.time_s = axes_[0].last_s();
        notice.text = std::move(text);
        row_notices_.push_back(std::move(notice));
    }
    void append_notices() {
        for (Notice& notice : row_notices_) notices_.add(std::move(notice));
        row_notices_.clear();
    }

    void clear(Block& block) {
        block.starts_segment = block.ends_segment = false;
        block.run.reset();
        block.channels.resize(channels_.size());
        for (ChannelBlock& channel : block.channels) {
            channel.time_s.clear();
            channel.value.clear();
            channel.time_s.reserve(most_lines_);
            channel.value.reserve(most_lines_);
        }
        notices_.begin(block.notices);
        samples_ = 0;
    }

    TextLines lines_;
    Layout layout_;
    PlainRows plain_;
    const std::vector<ColumnStep>& columns_;  // plain_'s, up to the last that is used
    std::vector<ChannelColumn> channels_;
    Description description_;
    std::vector<AxisFollower> axes_;
    std::size_t most_lines_ = lines_a_block;

    // the line at hand
    std::vector<std::string_view> cells_;
    std::vector<double> row_;
    std::vector<CellKind> cell_is_;
    std::vector<double> axis_time_s_;
    std::vector<char> axis_is_;
    bool row_is_whole_ = false;
    std::vector<Notice> row_notices_;

    // the block at hand
    std::size_t samples_ = 0;
    BlockNotices notices_;

    // the recording
    std::uint64_t lost_ = 0;  // bytes of a live stream
    std::uint64_t index_ = 0;
    bool starts_segment_ = true;
    int backwards_column_ = 0;  // of the time that ran backwards into the segment to come; 0 when none did
    bool tail_read_ = false;
    std::uint64_t text_lines_ = 0;
    Notice text_;
};

Result<Layout> layout_of_file(TextLines& lines, const std::string& name) {
    if (auto error = lines.look()) return *error;
    if (auto error = refuse_what_is_no_text(lines.head(), name)) return *error;
    return recognise_layout(lines.head(), lines.complete(), name);
}

/// Of a live stream as few lines as tell the layout: 64, then twice as many as long as they tell none, or
/// hardly any of them is one of numbers. What is decided depends on the lines alone, not on how they arrive.
Result<Layout> layout_of_stream(TextLines& lines, const std::string& name) {
    constexpr std::size_t first_look = 64, of_numbers = 32;
    for (std::size_t wanted = first_look;; wanted *= 2) {
        const Result<std::size_t> bytes = lines.look_at(wanted);
        if (!bytes) return bytes.error();
        const std::string_view head = lines.head().substr(0, *bytes);
        const bool all = *bytes == lines.head().size() && lines.looked_enough();
        if (auto error = refuse_what_is_no_text(head, name)) return *error;
        Result<Layout> layout = recognise_layout(head, all && lines.complete(), name);
        if (all || (layout && wanted >= layout->data_line + of_numbers)) return layout;
    }
}

}  // namespace

Result<std::unique_ptr<Source>> open_delimited_text(Bytes bytes, const ReadOptions& options) {
    TextLines lines(std::move(bytes));
    const std::string name = lines.bytes().name();
    Result<Layout> layout =
        lines.bytes().live() ? layout_of_stream(lines, name) : layout_of_file(lines, name);
    if (!layout) return layout.error();
    Result<ChannelPlan> plan = plan_channels(*layout, options, name);
    if (!plan) return plan.error();
    Description description;
    description.file = name;
    description.format = "delimited text";
    const std::string_view head = lines.head();
    const bool utf8 = is_utf8(head.substr(0, head.rfind(layout->line_end) + 1));
    description.dialect = dialect_text(lines.bytes().encoding(), utf8, *layout, *plan);
    for (const MetadataLine& m : layout->metadata) description.metadata.emplace_back(m.key, m.value);
    for (const ChannelColumn& channel : plan->channels) description.channels.push_back(channel.description);
    return std::unique_ptr<Source>(std::make_unique<DelimitedText>(
        std::move(lines), std::move(layout).value(), std::move(plan).value(), std::move(description)));
}

}  // namespace ebbtide::recording
