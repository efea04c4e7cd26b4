#include "recording/hdf5_datasets.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <span>

#include "basis/number_text.hpp"
#include "recording/bytes.hpp"
#include "recording/channels.hpp"
#include "recording/natural_order.hpp"
#include "recording/number_rows.hpp"

namespace ebbtide::recording::hdf5 {

namespace {

constexpr std::size_t most_objects = 10'000, most_in_group = 2'000, most_attributes = 200, most_shown = 12;
constexpr int most_depth = 8;

/// Datasets of one length in one group, in natural order of their names.
struct Side {
    std::string group;  ///< "/run 1", "/" for the file itself
    std::vector<std::string> names;
    std::vector<Numbers> columns;
    [[nodiscard]] std::uint64_t length() const { return columns.front().length; }
};

/// A group as a recording.
struct Planned {
    Side side;
    ChannelPlan plan;
};

// ---- what the file holds ----

class Walk {
  public:
    void through(hid_t group, const std::string& path, int depth) {
        std::map<std::uint64_t, Side> by_length;
        for (const std::string& name : names_in(group, most_in_group)) {
            if (++objects_ > most_objects) return;
            std::string instead;
            auto numbers = open_numbers(group, name, instead);
            const std::string whole = path + (path == "/" ? "" : "/") + name;
            if (!numbers && instead == "a group") {
                const Handle below = open_group(group, name);
                if (below && depth < most_depth) through(below.id(), whole, depth + 1);
                continue;
            }
            seen_.push_back(numbers ? fmt::format("{} ({} numbers)", whole, numbers->length)
                                    : fmt::format("{} ({})", whole, instead));
            if (!numbers || numbers->length < 2) continue;
            Side& side = by_length[numbers->length];
            side.group = path;
            side.names.push_back(name);
            side.columns.push_back(std::move(*numbers));
        }
        // Constants may lie beside the samples: most datasets, then the longest, are the recording.
        const auto most = std::ranges::max_element(by_length, [](const auto& a, const auto& b) {
            return std::pair(a.second.names.size(), a.first) < std::pair(b.second.names.size(), b.first);
        });
        if (most != by_length.end()) sides_.push_back(std::move(most->second));
    }

    [[nodiscard]] std::string seen() const {
        if (seen_.empty()) return "nothing";
        const std::size_t shown = std::min(seen_.size(), most_shown);
        return fmt::format("{}{}",
                           fmt::join(seen_.begin(), seen_.begin() + static_cast<std::ptrdiff_t>(shown), "; "),
                           seen_.size() > shown ? fmt::format("; and {} more", seen_.size() - shown) : "");
    }
    std::vector<Side> take_sides() {
        std::ranges::stable_sort(sides_, natural_less, &Side::group);
        return std::move(sides_);
    }

  private:
    std::size_t objects_ = 0;
    std::vector<std::string> seen_;
    std::vector<Side> sides_;
};

// ---- one group as columns ----

std::optional<std::string> unit_of(hid_t dataset) {
    for (const char* name : {"units", "unit", "Units", "Unit", "UNITS", "UNIT"})
        if (auto unit = text_of(dataset, name); unit && !unit->empty()) return unit;
    return std::nullopt;
}

void add_attributes(hid_t object, std::vector<MetadataLine>& lines) {
    for (const std::string& name : attributes_of(object, most_attributes)) {
        if (lines.size() >= most_attributes) return;
        if (auto text = text_of(object, name))
            lines.push_back({0, readable(name), text->substr(0, 1000)});
        else if (const auto number = number_of(object, name); number && std::isfinite(*number))
            lines.push_back({0, readable(name), shortest_text(*number)});
    }
}

Result<Layout> layout_of(hid_t file, const Side& side, const std::string& where) {
    Layout layout;
    layout.part = "dataset";
    layout.headed = true;
    const Handle group =
        side.group == "/" ? Handle() : Handle(H5Gopen2(file, side.group.c_str(), H5P_DEFAULT), H5Gclose);
    const auto looked_at =
        static_cast<std::size_t>(std::min<std::uint64_t>(side.length(), NumberRows::rows_a_block));
    std::vector<double> first(looked_at);
    for (std::size_t i = 0; i < side.names.size(); ++i) {
        const Numbers& numbers = side.columns[i];
        if (!numbers.read(0, looked_at, first.data()))
            return Error{Fault::bad_input, fmt::format("dataset '{}' is damaged", side.names[i]), where,
                         "Look for another copy of the recording"};
        SeenColumn column;
        column.holds = SeenColumn::Holds::numbers;
        column.heading = readable(side.names[i]);
        column.unit = unit_of(numbers.dataset.id()).value_or("");
        std::size_t larger = 0, one_more = 0;
        for (std::size_t k = 1; k < looked_at; ++k) {
            larger += first[k] > first[k - 1] ? 1 : 0;
            one_more += first[k] == first[k - 1] + 1 ? 1 : 0;
        }
        column.increasing = larger * 20 >= (looked_at - 1) * 19;
        column.counting = one_more == looked_at - 1 && std::floor(first[0]) == first[0];
        for (std::size_t k = 0; k < std::min<std::size_t>(3, looked_at); ++k)
            column.first_cells.push_back(std::isfinite(first[k]) ? shortest_text(first[k]) : "no number");
        layout.columns.push_back(std::move(column));
        add_attributes(numbers.dataset.id(), layout.metadata);
    }
    if (group) add_attributes(group.id(), layout.metadata);
    add_attributes(file, layout.metadata);
    return layout;
}

/// Options name datasets alone or with their group; nothing when they name those of another group.
std::optional<ReadOptions> options_in(const std::string& group, ReadOptions options) {
    const std::string prefix = group == "/" ? "/" : group + "/";
    for (std::string* name : {&options.specimen, &options.electrode, &options.marker, &options.time}) {
        if (!name->starts_with('/')) continue;
        if (!name->starts_with(prefix) || name->find('/', prefix.size()) != std::string::npos)
            return std::nullopt;
        name->erase(0, prefix.size());
    }
    return options;
}

std::vector<std::string> parts_of(const Planned& planned) {
    std::vector<std::string> parts;
    for (const ChannelColumn& channel : planned.plan.channels)
        parts.push_back(fmt::format("{} {} {}", channel.description.heading, channel.description.unit,
                                    trace::name_of(channel.description.quantity)));
    return parts;
}

// ---- samples ----

/// The groups one after another, a segment or more each.
class Datasets final : public Source {
  public:
    Datasets(Handle file, std::vector<Planned> groups, Description description)
        : file_(std::move(file)),
          groups_(std::move(groups)),
          description_(std::move(description)),
          rows_(groups_.front().plan.channels) {}

    const Description& description() const override { return description_; }
    std::string sha256() override { return {}; }
    std::uint64_t bytes() const override { return 0; }

    Result<bool> next(Block& block) override {
        rows_.begin(block);
        for (;;) {
            Rows rows;
            rows.first_row = read_ - time_s_.size();
            rows.time_s = time_s_;
            rows.values.assign(values_.begin(), values_.end());
            used_ = rows_.add(rows, used_, block);
            if (used_ < time_s_.size()) return true;
            const Result<bool> more = read_on();
            if (!more) return more.error();
            if (!*more) return rows_.taken() > 0 || !block.notices.empty();
        }
    }

  private:
    Result<bool> read_on() {
        used_ = 0;
        time_s_.clear();
        if (group_ < groups_.size() && read_ == groups_[group_].side.length()) {
            read_ = 0;
            ++group_;
            rows_.start_segment();
        }
        if (group_ == groups_.size()) return false;
        const Side& side = groups_[group_].side;
        const ChannelPlan& plan = groups_[group_].plan;
        const auto count = static_cast<std::size_t>(
            std::min<std::uint64_t>(NumberRows::rows_a_block, side.length() - read_));
        time_s_.resize(count);
        values_.resize(plan.channels.size());
        const TimeAxis& axis = plan.axes.front();
        const auto read_column = [&](int column, std::vector<double>& into) {
            into.resize(count);
            return side.columns[static_cast<std::size_t>(column)].read(read_, count, into.data());
        };
        bool whole = axis.column < 0 || read_column(axis.column, time_s_);
        for (std::size_t c = 0; c < plan.channels.size(); ++c)
            whole = whole && read_column(plan.channels[c].column, values_[c]);
        if (!whole)
            return Error{
                Fault::bad_input,
                fmt::format("{}: samples {} to {} are damaged", side.group, read_ + 1, read_ + count),
                description_.file, "Look for another copy of the recording"};
        for (std::size_t i = 0; i < count; ++i)
            time_s_[i] = axis.factor_s * (axis.column < 0 ? static_cast<double>(read_ + i) : time_s_[i]);
        read_ += count;
        return true;
    }

    Handle file_;
    std::vector<Planned> groups_;
    Description description_;
    NumberRows rows_;
    std::size_t group_ = 0;
    std::uint64_t read_ = 0;  // samples of the group at hand
    std::vector<double> time_s_;
    std::vector<std::vector<double>> values_;
    std::size_t used_ = 0;
};

}  // namespace

Result<std::unique_ptr<Source>> open_datasets(Handle file, const std::string& name,
                                              const ReadOptions& options) {
    Walk walk;
    const Handle root(H5Gopen2(file.id(), "/", H5P_DEFAULT), H5Gclose);
    if (root) walk.through(root.id(), "/", 0);

    std::vector<Planned> planned;
    std::vector<MetadataLine> metadata;
    std::optional<Error> refusal;
    for (Side& side : walk.take_sides()) {
        const auto own_options = options_in(side.group, options);
        if (!own_options) continue;
        const std::string where = side.group == "/" ? name : fmt::format("{}, group {}", name, side.group);
        Result<Layout> layout = layout_of(file.id(), side, where);
        if (!layout) return layout.error();
        Result<ChannelPlan> plan = plan_channels(*layout, *own_options, where);
        if (!plan || plan->axes.size() != 1) {
            if (!refusal)
                refusal = plan ? Error{Fault::bad_input, "several datasets hold the time", where,
                                       "Name one: --time"}
                               : plan.error();
            continue;
        }
        if (planned.empty()) metadata = layout->metadata;
        planned.push_back({std::move(side), std::move(plan).value()});
    }
    if (planned.empty()) {
        if (refusal) return *refusal;
        return Error{
            Fault::bad_input,
            fmt::format("holds no group with datasets of numbers side by side. Seen: {}", walk.seen()), name,
            "Write the samples as one-dimensional datasets of equal length into one group, or export "
            "the recording as text"};
    }
    for (const Planned& other : planned)
        if (parts_of(other) != parts_of(planned.front()))
            return Error{
                Fault::bad_input,
                fmt::format("its groups hold different recordings: {} ({}) and {} ({})",
                            planned.front().side.group, fmt::join(planned.front().side.names, ", "),
                            other.side.group, fmt::join(other.side.names, ", ")),
                name,
                fmt::format("Name the one that is meant with its group: --specimen {}{}NAME",
                            planned.front().side.group, planned.front().side.group == "/" ? "" : "/")};

    Description about;
    about.file = name;
    about.format = "HDF5";
    about.dialect = planned.size() == 1
                        ? fmt::format("group {}", planned.front().side.group)
                        : fmt::format("{} groups, {} to {}, one after another", planned.size(),
                                      planned.front().side.group, planned.back().side.group);
    for (std::size_t i = 0; i < planned.front().plan.remarks.size(); ++i)
        about.dialect += (i == 0 ? "; " : ", ") + planned.front().plan.remarks[i];
    for (const MetadataLine& line : metadata) about.metadata.emplace_back(line.key, line.value);
    for (const ChannelColumn& channel : planned.front().plan.channels)
        about.channels.push_back(channel.description);
    return std::unique_ptr<Source>(
        std::make_unique<Datasets>(std::move(file), std::move(planned), std::move(about)));
}

}  // namespace ebbtide::recording::hdf5
