#include "recording/plain_rows.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace ebbtide::recording {

namespace {

// Lines read at once: few enough to stay in the nearest cache.
constexpr std::size_t numbers_a_batch = 1024;
constexpr std::size_t lines_a_batch = 256;
constexpr double largest = std::numeric_limits<double>::max();

}  // namespace

PlainRows::PlainRows(const Layout& layout, std::vector<ColumnStep> columns,
                     const std::vector<ChannelColumn>& channels)
    : delimiter_(layout.delimiter),
      sign_(layout.decimal_sign),
      line_end_(layout.line_end),
      columns_follow_(columns.size() < layout.columns.size()),
      columns_(std::move(columns)) {
    for (const ChannelColumn& channel : channels)
        slots_.push_back({static_cast<std::size_t>(channel.column), channel.description.factor_to_SI});
    batch_lines_ = std::clamp<std::size_t>(numbers_a_batch / columns_.size(), 1, lines_a_batch);
    batch_.resize(batch_lines_ * columns_.size());
    time_s_.resize(batch_lines_);
}

std::size_t PlainRows::read(TextLines& lines, AxisFollower& followed, std::uint64_t first_index,
                            std::size_t most_samples, Block& block) {
    const PlainLine plain = line();
    const int time_column = followed.axis().column;
    const std::size_t width = columns_.size(), channels = slots_.size();
    AxisFollower axis = followed;  // kept in registers
    double index = static_cast<double>(first_index);
    const char* p = lines.begin();
    const char* const end = lines.end();
    const std::size_t most = std::min(batch_lines_, most_samples);
    std::size_t count = 0, ready = 0;
    bool alike = every_shape_known();
    for (; count < most && p != end; ++count, index += 1) {
        double* const row = batch_.data() + count * width;
        const char* q = p;
        if (alike && count == ready)
            ready += read_ahead({p, static_cast<std::size_t>(end - p)}, row, most - count);
        if (count < ready) {
            q += row_bytes_;
        } else {
            if (!(alike && read_line_alike(q, row, plain))) {
                if (!read_plain_line(q, row, plain)) break;
                alike = every_shape_known();
            }
            ready = count + 1;
        }
        const double time_s = axis.seconds(time_column < 0 ? index : row[time_column]);
        if (axis.step_to(time_s) != AxisFollower::Step::onward) break;
        bool finite = std::abs(time_s) <= largest;
        for (std::size_t c = 0; c < channels; ++c) {
            double& value = row[slots_[c].column];
            value *= slots_[c].factor;
            finite = finite && std::abs(value) <= largest;
        }
        if (!finite) break;
        axis.accept(time_s);
        time_s_[count] = time_s;
        p = q;
    }
    if (count == 0) return 0;
    followed = axis;
    add(count, block);
    lines.advance(p, count);
    return count;
}

void PlainRows::add(std::size_t lines, Block& block) const {
    for (std::size_t c = 0; c < slots_.size(); ++c) {
        ChannelBlock& to = block.channels[c];
        to.time_s.insert(to.time_s.end(), time_s_.begin(),
                         time_s_.begin() + static_cast<std::ptrdiff_t>(lines));
        const double* from = batch_.data() + slots_[c].column;
        to.value.resize(to.value.size() + lines);
        double* const values = to.value.data() + (to.value.size() - lines);
        for (std::size_t i = 0; i < lines; ++i) values[i] = from[i * columns_.size()];
    }
}

bool PlainRows::every_shape_known() const {
    return std::ranges::all_of(columns_, [](const ColumnStep& c) { return c.shape.known(); });
}

// Lines written just like those before, many at once; row_bytes_ is the length of each. Every shape is known.
std::size_t PlainRows::read_ahead(std::string_view text, double* rows, std::size_t most) {
    if (columns_follow_) return 0;
    std::uint64_t taken = 0;
    for (const ColumnStep& step : columns_) {
        if (step.use != ColumnStep::Use::number) return 0;
        taken += step.shape.taken();
    }
    if (patterns_taken_ != taken) {
        patterns_taken_ = taken;
        const std::size_t end = text.find(line_end_);
        const std::size_t end_bytes = line_end_ == '\n' && end > 0 && text[end - 1] == '\r' ? 2 : 1;
        row_end_ = text.substr(end + 1 - end_bytes, end_bytes);
        row_bytes_ = columns_.size() - 1 + end_bytes;
        patterns_.clear();
        for (const ColumnStep& step : columns_) {
            patterns_.push_back(step.shape.pattern());
            row_bytes_ += patterns_.back().bytes;
        }
    }
    return lanes::read_alike_rows(text, patterns_, {delimiter_, sign_, row_end_}, rows, most);
}

}  // namespace ebbtide::recording
