#include "recording/hdf5_own.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <span>

#include "basis/instant.hpp"
#include "recording/bytes.hpp"
#include "recording/stored_channels.hpp"

namespace ebbtide::recording::hdf5 {

namespace {

constexpr std::size_t samples_at_once = 4096;
constexpr std::size_t most_channels = 100'000;
constexpr std::int64_t largest_whole = std::int64_t{1} << 53;

/// One channel of the segment at hand, read some thousand samples ahead.
struct Column {
    Numbers value;
    std::optional<Numbers> time;
    EvenTime even;
    std::uint64_t length = 0, read = 0;  // samples in the file, and of them in memory by now
    std::vector<double> time_s, values;  // ahead
    std::size_t used = 0;
    double last_s = -HUGE_VAL;

    [[nodiscard]] bool has_more() const { return used < time_s.size() || read < length; }
};

class Own final : public Source {
  public:
    Own(Handle file, std::string name) : file_(std::move(file)), name_(std::move(name)) {}

    std::optional<Error> begin(const ReadOptions& options) {
        for (const auto& [text, key] :
             {std::pair{&original_format_, "format"}, {&original_dialect_, "dialect"}}) {
            const auto found = text_of(file_.id(), key);
            if (!found) return lacks("/", key);
            *text = *found;
        }
        description_.file = name_;
        description_.format = "HDF5";
        description_.dialect = fmt::format("{}, made from {}{}{}", own_schema, original_format_,
                                           original_dialect_.empty() ? "" : ": ", original_dialect_);
        if (const auto origin = text_of(file_.id(), "origin")) {
            const auto instant = parse_instant(*origin);
            if (!instant) return lacks("/", "readable origin");
            description_.origin = *instant;
        }
        if (holds(file_.id(), "metadata")) {
            const auto texts = texts_in(file_.id(), "metadata", 2, most_metadata);
            if (!texts) return lacks("/", "readable metadata");
            for (std::size_t i = 0; i + 1 < texts->size(); i += 2)
                description_.metadata.emplace_back((*texts)[i], (*texts)[i + 1]);
        }
        segments_ = open_group(file_.id(), "segments");
        if (!segments_) return lacks("/", "segments");
        if (auto error = open_segment()) return error;
        if (columns_.empty()) return lacks("/segments", segment_name(1));
        return name_channels(description_.channels, options, name_);
    }

    const Description& description() const override { return description_; }
    std::string sha256() override { return {}; }
    std::uint64_t bytes() const override { return 0; }

    Result<bool> next(Block& block) override {
        block.starts_segment = block.ends_segment = false;
        block.run.reset();
        block.notices.clear();
        block.channels.resize(description_.channels.size());
        for (ChannelBlock& channel : block.channels) {
            channel.time_s.clear();
            channel.value.clear();
        }
        if (ended_) return false;
        block.starts_segment = starts_;
        starts_ = false;
        if (auto error = fill(block)) return *error;
        const bool more = std::ranges::any_of(columns_, &Column::has_more);
        hand_out_notices(block, !more);
        if (more) return true;
        block.ends_segment = true;
        if (auto error = open_segment()) return *error;
        return true;
    }

  private:
    // ---- opening what the layout names ----

    Error lacks(const std::string& where, std::string_view what) const {
        return {Fault::bad_input, fmt::format("{} holds no {}, which {} has", where, what, own_schema), name_,
                "The file is damaged or was changed: convert the recording again"};
    }
    Error damaged(const std::string& where, std::uint64_t from, std::uint64_t to) const {
        return {Fault::bad_input, fmt::format("{}: samples {} to {} are damaged", where, from + 1, to), name_,
                "Look for another copy, or convert the recording again"};
    }
    std::string place(std::size_t channel) const {
        return fmt::format("/segments/{}/{}", segment_name(segment_), channel_name(channel));
    }

    /// The next segment; there being none, ended_ holds.
    std::optional<Error> open_segment() {
        const std::string segment = segment_name(segment_ + 1);
        columns_.clear();
        ended_ = !holds(segments_.id(), segment);
        if (ended_) return std::nullopt;
        ++segment_;
        starts_ = true;
        const Handle group = open_group(segments_.id(), segment);
        if (!group) return lacks("/segments", segment);
        std::vector<trace::ChannelDescription> channels;
        for (std::size_t c = 0; c < most_channels && holds(group.id(), channel_name(c)); ++c) {
            const Handle channel = open_group(group.id(), channel_name(c));
            if (!channel) return lacks(place(c), "readable group");
            if (auto error = open_column(channel.id(), c)) return error;
            auto described = description_of(channel.id());
            if (!described) return lacks(place(c), "description");
            channels.push_back(std::move(*described));
        }
        if (segment_ == 1) {
            if (channels.empty()) return lacks("/segments/" + segment, "channel_1");
            description_.channels = channels;
        } else if (channels.size() != description_.channels.size()) {
            return lacks("/segments/" + segment, channel_name(channels.size()));
        }
        return read_notices(group.id());
    }

    static std::optional<trace::ChannelDescription> description_of(hid_t channel) {
        const auto heading = text_of(channel, "heading"), unit = text_of(channel, "unit"),
                   quantity = text_of(channel, "quantity");
        const auto factor = number_of(channel, "factor_to_SI");
        const auto column = whole_of(channel, "column");
        if (!heading || !unit || !quantity || !factor || !std::isfinite(*factor)) return std::nullopt;
        const auto named = trace::quantity_named(*quantity);
        if (!named || column.value_or(0) < 0 || column.value_or(0) > 1'000'000'000) return std::nullopt;
        return trace::ChannelDescription{*heading, *unit, *factor, *named,
                                         static_cast<int>(column.value_or(0))};
    }

    std::optional<Error> open_column(hid_t channel, std::size_t c) {
        Column column;
        std::string instead;
        auto value = open_numbers(channel, "value", instead);
        if (!value) return lacks(place(c), fmt::format("dataset 'value' ({})", instead));
        column.length = value->length;
        column.value = std::move(*value);
        if (holds(channel, "time")) {
            column.time = open_numbers(channel, "time", instead);
            if (!column.time || column.time->length != column.length)
                return lacks(place(c), "'time' as long as its 'value'");
        } else {
            for (const auto& [key, number, least] :
                 {std::tuple{"first_step", &column.even.first, -largest_whole},
                  {"step_numerator", &column.even.numerator, std::int64_t{1}},
                  {"step_denominator", &column.even.denominator, std::int64_t{1}}}) {
                const auto found = whole_of(channel, key);
                if (!found || *found < least || *found > largest_whole) return lacks(place(c), key);
                *number = *found;
            }
        }
        columns_.push_back(std::move(column));
        return std::nullopt;
    }

    // ---- samples ----

    /// All channels up to the time that the shortest look ahead reaches, so that they keep pace.
    std::optional<Error> fill(Block& block) {
        double until_s = HUGE_VAL;
        for (std::size_t c = 0; c < columns_.size(); ++c) {
            Column& column = columns_[c];
            if (column.used == column.time_s.size() && column.read < column.length)
                if (auto error = read_ahead(column, c)) return error;
            if (column.read < column.length) until_s = std::min(until_s, column.time_s.back());
        }
        for (std::size_t c = 0; c < columns_.size(); ++c) {
            Column& column = columns_[c];
            std::size_t end = column.used;
            while (end < column.time_s.size() && column.time_s[end] <= until_s) ++end;
            const auto part = [&](const std::vector<double>& from) {
                return std::span(from).subspan(column.used, end - column.used);
            };
            const auto times = part(column.time_s), values = part(column.values);
            block.channels[c].time_s.assign(times.begin(), times.end());
            block.channels[c].value.assign(values.begin(), values.end());
            column.used = end;
        }
        return std::nullopt;
    }

    std::optional<Error> read_ahead(Column& column, std::size_t c) {
        const auto count =
            static_cast<std::size_t>(std::min<std::uint64_t>(samples_at_once, column.length - column.read));
        column.used = 0;
        column.time_s.resize(count);
        column.values.resize(count);
        const std::uint64_t from = column.read;
        column.read += count;
        if (!column.value.read(from, count, column.values.data()) ||
            (column.time && !column.time->read(from, count, column.time_s.data())))
            return damaged(place(c), from, column.read);
        if (!column.time)
            for (std::size_t i = 0; i < count; ++i) column.time_s[i] = column.even.at(from + i);
        for (std::size_t i = 0; i < count; ++i) {
            const double time_s = column.time_s[i];
            if (!std::isfinite(time_s) || !std::isfinite(column.values[i]) || time_s < column.last_s)
                return damaged(place(c), from + i, column.read);
            column.last_s = time_s;
        }
        return std::nullopt;
    }

    // ---- notices ----

    std::optional<Error> read_notices(hid_t group) {
        notices_.clear();
        if (!holds(group, "notices")) return std::nullopt;
        const Error broken = lacks("/segments/" + segment_name(segment_), "readable notices");
        const Handle dataset(H5Dopen2(group, "notices", H5P_DEFAULT), H5Dclose);
        if (!dataset) return broken;
        const Handle space(H5Dget_space(dataset.id()), H5Sclose), type = notice_type();
        const hssize_t rows = space ? H5Sget_simple_extent_npoints(space.id()) : -1;
        if (rows < 0 || rows > static_cast<hssize_t>(most_notices) ||
            H5Sget_simple_extent_ndims(space.id()) != 1)
            return broken;
        std::vector<NoticeRow> table(static_cast<std::size_t>(rows));
        if (H5Dread(dataset.id(), type.id(), H5S_ALL, H5S_ALL, H5P_DEFAULT, table.data()) < 0) return broken;
        for (const NoticeRow& row : table) {
            const auto kind = trace::notice_kind_named({row.kind, ::strnlen(row.kind, sizeof row.kind)});
            if (!kind || row.column < 0 || row.column > 1'000'000'000 || !std::isfinite(row.time_s))
                return broken;
            notices_.push_back({*kind, row.line, static_cast<int>(row.column), row.count, row.time_s,
                                readable({row.text, ::strnlen(row.text, sizeof row.text)})});
        }
        std::ranges::reverse(notices_);  // handed out from the back
        return std::nullopt;
    }

    void hand_out_notices(Block& block, bool all) {
        double until_s = HUGE_VAL;
        for (const ChannelBlock& channel : block.channels)
            if (!channel.time_s.empty()) until_s = std::min(until_s, channel.time_s.back());
        while (!notices_.empty() && (all || notices_.back().time_s <= until_s)) {
            block.notices.push_back(std::move(notices_.back()));
            notices_.pop_back();
        }
    }

    Handle file_, segments_;
    std::string name_, original_format_, original_dialect_;
    Description description_;
    std::uint64_t segment_ = 0;  // at hand, from 1
    bool starts_ = false, ended_ = false;
    std::vector<Column> columns_;
    std::vector<trace::Notice> notices_;
};

}  // namespace

Handle text_type(std::size_t bytes) {
    Handle text(H5Tcopy(H5T_C_S1), H5Tclose);
    H5Tset_size(text.id(), std::max<std::size_t>(1, bytes));
    H5Tset_strpad(text.id(), H5T_STR_NULLPAD);
    H5Tset_cset(text.id(), H5T_CSET_UTF8);
    return text;
}

Handle notice_type() {
    const Handle kind = text_type(sizeof NoticeRow::kind), text = text_type(sizeof NoticeRow::text);
    Handle row(H5Tcreate(H5T_COMPOUND, sizeof(NoticeRow)), H5Tclose);
    H5Tinsert(row.id(), "kind", offsetof(NoticeRow, kind), kind.id());
    H5Tinsert(row.id(), "line", offsetof(NoticeRow, line), H5T_NATIVE_UINT64);
    H5Tinsert(row.id(), "column", offsetof(NoticeRow, column), H5T_NATIVE_INT64);
    H5Tinsert(row.id(), "count", offsetof(NoticeRow, count), H5T_NATIVE_UINT64);
    H5Tinsert(row.id(), "time_s", offsetof(NoticeRow, time_s), H5T_NATIVE_DOUBLE);
    H5Tinsert(row.id(), "text", offsetof(NoticeRow, text), text.id());
    return row;
}

Result<std::unique_ptr<Source>> open_own(Handle file, const std::string& name, const ReadOptions& options) {
    auto own = std::make_unique<Own>(std::move(file), name);
    if (auto error = own->begin(options)) return *error;
    return std::unique_ptr<Source>(std::move(own));
}

}  // namespace ebbtide::recording::hdf5
