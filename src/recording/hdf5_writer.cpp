#include "recording/hdf5_writer.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <cstring>
#include <span>
#include <stdexcept>

#include "basis/version.hpp"
#include "recording/hdf5_access.hpp"
#include "recording/hdf5_own.hpp"

namespace ebbtide::recording {

namespace {

using namespace hdf5;

constexpr std::size_t most_in_chunk = 16'384, numbers_in_memory = std::size_t{1} << 22;
constexpr unsigned deflate_level = 4;
constexpr std::size_t longest_metadata = 4'096;

/// At most `most` bytes, never half a character.
std::string_view cut(std::string_view text, std::size_t most) {
    if (text.size() <= most) return text;
    while (most > 0 && (static_cast<unsigned char>(text[most]) & 0xC0) == 0x80) --most;
    return text.substr(0, most);
}

// Each answers whether it was written.

bool put_attribute(hid_t object, const char* name, hid_t type, const void* value) {
    const Handle space(H5Screate(H5S_SCALAR), H5Sclose);
    Handle at(H5Acreate2(object, name, type, space.id(), H5P_DEFAULT, H5P_DEFAULT), H5Aclose);
    return at && H5Awrite(at.id(), type, value) >= 0 && at.reset();
}
bool put(hid_t object, const char* name, std::string_view value) {
    const std::string text(cut(value, longest_text - 1));
    return put_attribute(object, name, text_type(text.size()).id(), text.c_str());
}
bool put(hid_t object, const char* name, double value) {
    return put_attribute(object, name, H5T_NATIVE_DOUBLE, &value);
}
bool put(hid_t object, const char* name, std::int64_t value) {
    return put_attribute(object, name, H5T_NATIVE_INT64, &value);
}

Handle make_group(hid_t parent, const std::string& name) {
    const Handle creation(H5Pcreate(H5P_GROUP_CREATE), H5Pclose);
    H5Pset_obj_track_times(creation.id(), false);  // the same recording makes the same bytes
    return {H5Gcreate2(parent, name.c_str(), H5P_DEFAULT, creation.id(), H5P_DEFAULT), H5Gclose};
}

/// Rows that grow, in chunks that are summed, so that a changed bit is found.
Handle make_dataset(hid_t group, const char* name, hid_t type, std::span<const hsize_t> size,
                    std::span<const hsize_t> chunk, bool grows) {
    std::vector<hsize_t> most(size.begin(), size.end());
    if (grows) most[0] = H5S_UNLIMITED;
    const int rank = static_cast<int>(size.size());
    const Handle space(H5Screate_simple(rank, size.data(), most.data()), H5Sclose);
    const Handle creation(H5Pcreate(H5P_DATASET_CREATE), H5Pclose);
    H5Pset_chunk(creation.id(), rank, chunk.data());
    H5Pset_obj_track_times(creation.id(), false);
    H5Pset_shuffle(creation.id());
    H5Pset_deflate(creation.id(), deflate_level);
    H5Pset_fletcher32(creation.id());
    return {H5Dcreate2(group, name, type, space.id(), H5P_DEFAULT, creation.id(), H5P_DEFAULT), H5Dclose};
}

bool append(hid_t dataset, std::uint64_t before, std::span<const double> numbers) {
    const hsize_t start = before, count = numbers.size(), whole = start + count;
    if (H5Dset_extent(dataset, &whole) < 0) return false;
    const Handle space(H5Dget_space(dataset), H5Sclose),
        memory(H5Screate_simple(1, &count, nullptr), H5Sclose);
    return H5Sselect_hyperslab(space.id(), H5S_SELECT_SET, &start, nullptr, &count, nullptr) >= 0 &&
           H5Dwrite(dataset, H5T_NATIVE_DOUBLE, memory.id(), space.id(), H5P_DEFAULT, numbers.data()) >= 0;
}

bool is_even(const EvenTime& even, std::uint64_t from, std::span<const double> time_s) {
    for (std::size_t i = 0; i < time_s.size(); ++i)
        if (even.at(from + i) != time_s[i]) return false;
    return true;
}

/// The step as a fraction that gives each of these times to the last bit, if there is one: decimal steps and
/// whole rates.
std::optional<EvenTime> even_time_of(std::span<const double> time_s) {
    if (time_s.size() < 2) return std::nullopt;
    const double step_s = (time_s.back() - time_s.front()) / static_cast<double>(time_s.size() - 1);
    if (!(step_s > 1e-12 && step_s < 1e9 && std::abs(time_s.front()) < 1e12 * step_s)) return std::nullopt;
    std::vector<std::pair<double, double>> steps{{1, std::round(1 / step_s)}};
    for (double denominator = 1; denominator < 1e13; denominator *= 10)
        steps.emplace_back(std::round(step_s * denominator), denominator);
    for (const auto& [numerator, denominator] : steps) {
        if (numerator < 1 || numerator > 1e12 || denominator < 1) continue;
        EvenTime even;
        even.numerator = static_cast<std::int64_t>(numerator);
        even.denominator = static_cast<std::int64_t>(denominator);
        even.first = std::llround(time_s.front() * denominator / numerator);
        if (is_even(even, 0, time_s)) return even;
    }
    return std::nullopt;
}

/// One channel of a segment while it grows.
class Channel {
  public:
    Channel(Handle group, std::size_t chunk) : group_(std::move(group)), chunk_(chunk) {}

    bool describe(const trace::ChannelDescription& about) {
        const hsize_t none = 0, chunk = chunk_;
        value_ = make_dataset(group_.id(), "value", H5T_NATIVE_DOUBLE, {&none, 1}, {&chunk, 1}, true);
        const std::string_view unit = about.quantity == trace::Quantity::specimen_voltage ||
                                              about.quantity == trace::Quantity::electrode_voltage
                                          ? "V"
                                      : about.quantity == trace::Quantity::relative_humidity ? "%"
                                      : about.quantity == trace::Quantity::temperature       ? "degC"
                                                                                             : "";
        return value_ && put(group_.id(), "heading", about.heading) && put(group_.id(), "unit", about.unit) &&
               put(group_.id(), "factor_to_SI", about.factor_to_SI) &&
               put(group_.id(), "quantity", trace::name_of(about.quantity)) &&
               put(group_.id(), "column", std::int64_t{about.column}) &&
               (unit.empty() || put(value_.id(), "units", unit));
    }
    bool add(const ChannelBlock& block) {
        time_s_.insert(time_s_.end(), block.time_s.begin(), block.time_s.end());
        values_.insert(values_.end(), block.value.begin(), block.value.end());
        while (values_.size() >= chunk_)
            if (!write(chunk_)) return false;
        return true;
    }
    bool finish() {
        if (!values_.empty() && !write(values_.size())) return false;
        if (!time_) {
            const double step_s =
                static_cast<double>(even_->numerator) / static_cast<double>(even_->denominator);
            if (!put(group_.id(), "start_s", even_->at(0)) || !put(group_.id(), "step_s", step_s) ||
                !put(group_.id(), "first_step", even_->first) ||
                !put(group_.id(), "step_numerator", even_->numerator) ||
                !put(group_.id(), "step_denominator", even_->denominator))
                return false;
        } else if (!time_.reset()) {
            return false;
        }
        return value_.reset() && group_.reset();
    }

  private:
    bool write(std::size_t count) {
        const std::span<const double> times = std::span(time_s_).first(count);
        if (written_ == 0) even_ = even_time_of(times);
        if (!time_ && !(even_ && is_even(*even_, written_, times)) && !list_times()) return false;
        if (time_ && !append(time_.id(), written_, times)) return false;
        if (!append(value_.id(), written_, std::span(values_).first(count))) return false;
        written_ += count;
        time_s_.erase(time_s_.begin(), time_s_.begin() + static_cast<std::ptrdiff_t>(count));
        values_.erase(values_.begin(), values_.begin() + static_cast<std::ptrdiff_t>(count));
        return true;
    }

    /// From here on times are not even: those up to here are made again, exactly, from what was even so far.
    bool list_times() {
        const hsize_t none = 0, chunk = chunk_;
        time_ = make_dataset(group_.id(), "time", H5T_NATIVE_DOUBLE, {&none, 1}, {&chunk, 1}, true);
        if (!time_ || !put(time_.id(), "units", "s")) return false;
        std::vector<double> earlier;
        for (std::uint64_t from = 0; from < written_; from += earlier.size()) {
            earlier.resize(static_cast<std::size_t>(std::min<std::uint64_t>(chunk_, written_ - from)));
            for (std::size_t i = 0; i < earlier.size(); ++i) earlier[i] = even_->at(from + i);
            if (!append(time_.id(), from, earlier)) return false;
        }
        return true;
    }

    Handle group_, value_, time_;
    std::size_t chunk_;
    std::vector<double> time_s_, values_;  // not written yet
    std::uint64_t written_ = 0;
    std::optional<EvenTime> even_ = EvenTime{};
};

}  // namespace

/// The file as it grows; each step answers whether it was written.
class Hdf5Writer::File {
  public:
    File(const std::string& path, Description description) : description_(std::move(description)) {
        settle();
        const Handle access(H5Pcreate(H5P_FILE_ACCESS), H5Pclose);
        // The structures of 1.10 carry checksums, older ones do not.
        H5Pset_libver_bounds(access.id(), H5F_LIBVER_V110, H5F_LIBVER_V110);
        H5Pset_fclose_degree(access.id(), H5F_CLOSE_STRONG);
        const Handle creation(H5Pcreate(H5P_FILE_CREATE), H5Pclose);
        H5Pset_obj_track_times(creation.id(), false);  // of the root group
        file_ = Handle(H5Fcreate(path.c_str(), H5F_ACC_TRUNC, creation.id(), access.id()), H5Fclose);
        if (file_) segments_ = make_group(file_.id(), "segments");
        chunk_ = std::clamp<std::size_t>(
            numbers_in_memory / std::max<std::size_t>(1, description_.channels.size()), 64, most_in_chunk);
    }
    [[nodiscard]] bool open() const { return file_ && segments_; }
    [[nodiscard]] bool has_segment() const { return static_cast<bool>(segment_); }
    [[nodiscard]] std::size_t channels() const { return description_.channels.size(); }

    bool start_segment() {
        if (segment_ && !end_segment()) return false;
        segment_ = make_group(segments_.id(), segment_name(++number_));
        if (!segment_) return false;
        for (std::size_t c = 0; c < description_.channels.size(); ++c) {
            Handle group = make_group(segment_.id(), channel_name(c));
            if (!group) return false;
            channels_.emplace_back(std::move(group), chunk_);
            if (!channels_.back().describe(description_.channels[c])) return false;
        }
        return true;
    }
    bool add(const Block& block) {
        for (std::size_t c = 0; c < channels_.size(); ++c)
            if (!channels_[c].add(block.channels[c])) return false;
        for (const trace::Notice& notice : block.notices)
            if (notices_.size() < most_notices) notices_.push_back(row_of(notice));
        return true;
    }
    bool finish(const Original& original) {
        if (!has_segment() && !start_segment()) return false;
        const hid_t root = file_.id();
        return end_segment() && put(root, "schema", own_schema) &&
               put(root, "engine", std::string("ebbtide ") + version_text) &&
               put(root, "file", description_.file) && put(root, "format", description_.format) &&
               put(root, "dialect", description_.dialect) && put(root, "recording", original.sha256) &&
               put(root, "bytes", static_cast<std::int64_t>(original.bytes)) &&
               (!description_.origin || put(root, "origin", iso_text(*description_.origin))) &&
               put_metadata(original.metadata) && segments_.reset() &&
               H5Fflush(root, H5F_SCOPE_GLOBAL) >= 0 && file_.reset();
    }

  private:
    bool end_segment() {
        for (Channel& channel : channels_)
            if (!channel.finish()) return false;
        channels_.clear();
        return put_notices() && segment_.reset();
    }

    static NoticeRow row_of(const trace::Notice& notice) {
        NoticeRow row{};
        row.line = notice.line;
        row.column = notice.column;
        row.count = notice.count;
        row.time_s = notice.time_s;
        const std::string_view kind = trace::name_of(notice.kind), text = cut(notice.text, sizeof row.text);
        std::memcpy(row.kind, kind.data(), std::min(kind.size(), sizeof row.kind));
        std::memcpy(row.text, text.data(), text.size());
        return row;
    }
    bool put_notices() {
        if (notices_.empty()) return true;
        const hsize_t size = notices_.size(), chunk = std::min<hsize_t>(size, 1'000);
        const Handle type = notice_type();
        Handle table = make_dataset(segment_.id(), "notices", type.id(), {&size, 1}, {&chunk, 1}, false);
        const bool written =
            table && H5Dwrite(table.id(), type.id(), H5S_ALL, H5S_ALL, H5P_DEFAULT, notices_.data()) >= 0;
        notices_.clear();
        return written && table.reset();
    }
    bool put_metadata(const std::vector<std::pair<std::string, std::string>>& metadata) {
        const std::size_t rows = std::min(metadata.size(), most_metadata);
        if (rows == 0) return true;
        std::size_t width = 1;
        for (std::size_t i = 0; i < rows; ++i)
            for (const std::string& text : {metadata[i].first, metadata[i].second})
                width = std::max(width, cut(text, longest_metadata).size());
        std::string bytes(rows * 2 * width, '\0');
        for (std::size_t i = 0; i < rows; ++i) {
            const std::string_view key = cut(metadata[i].first, width),
                                   value = cut(metadata[i].second, width);
            std::memcpy(bytes.data() + 2 * i * width, key.data(), key.size());
            std::memcpy(bytes.data() + (2 * i + 1) * width, value.data(), value.size());
        }
        const hsize_t size[2] = {rows, 2};
        const Handle type = text_type(width);
        Handle texts = make_dataset(file_.id(), "metadata", type.id(), size, size, false);
        return texts && H5Dwrite(texts.id(), type.id(), H5S_ALL, H5S_ALL, H5P_DEFAULT, bytes.data()) >= 0 &&
               texts.reset();
    }

    Description description_;
    Handle file_, segments_, segment_;
    std::vector<Channel> channels_;
    std::vector<NoticeRow> notices_;
    std::size_t chunk_ = most_in_chunk;
    std::uint64_t number_ = 0;
};

namespace {

Error cannot_write(const std::string& path) {
    return {Fault::unreadable, "cannot be written", path,
            "Check that the folder is there and writable, and that the disk is not full"};
}
/// What was closed is on the disk, not only on its way.
bool is_on_disk(const std::string& path) {
    const int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
    if (file < 0) return false;
    const bool synced = ::fsync(file) == 0;
    ::close(file);
    return synced;
}

}  // namespace

Hdf5Writer::Hdf5Writer(std::string path) : path_(std::move(path)) {}

Hdf5Writer::~Hdf5Writer() = default;

Result<Done> Hdf5Writer::describe(const Description& description) {
    if (file_) throw std::logic_error("Hdf5Writer: described twice");
    file_ = std::make_unique<File>(path_, description);
    if (!file_->open()) return cannot_write(path_);
    return Done{};
}

Result<Done> Hdf5Writer::block(const Block& block) {
    if (!file_ || block.channels.size() != file_->channels())
        throw std::logic_error("Hdf5Writer: a block of another recording");
    if (block.run)
        return Error{Fault::bad_input, "holds runs that were cut before, for which this layout has no place",
                     path_, "Keep the recording container as it is"};
    if ((block.starts_segment || !file_->has_segment()) && !file_->start_segment())
        return cannot_write(path_);
    if (!file_->add(block)) return cannot_write(path_);
    return Done{};
}

Result<Done> Hdf5Writer::finish(const Original& original) {
    if (!file_) throw std::logic_error("Hdf5Writer: finished before it was described");
    if (!file_->finish(original) || !is_on_disk(path_)) return cannot_write(path_);
    file_.reset();
    return Done{};
}

}  // namespace ebbtide::recording
