#include "recording/sound.hpp"

#include <fmt/format.h>
#include <sndfile.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>
#include <optional>

#include "basis/number_text.hpp"
#include "recording/number_rows.hpp"
#include "recording/whole_file.hpp"

namespace ebbtide::recording {

namespace {

using Kind = trace::Notice::Kind;

constexpr std::size_t numbers_at_once = std::size_t{1} << 16;

// ---- the library's view of the file ----

/// What the library reads through: it asks by position, so the file's own offset stays where it is.
struct Reading {
    WholeFile file;
    sf_count_t at = 0;
    /// Shown instead of the file's first bytes. A length of 8 makes the library take samples up to the end of
    /// the file where the recorder never filled in how many there are.
    std::string front = {};
};

SF_VIRTUAL_IO through_reading() {
    const auto length = [](void* data) {
        return static_cast<sf_count_t>(static_cast<Reading*>(data)->file.size());
    };
    const auto seek = [](sf_count_t offset, int whence, void* data) {
        auto& reading = *static_cast<Reading*>(data);
        const sf_count_t from = whence == SEEK_SET   ? 0
                                : whence == SEEK_CUR ? reading.at
                                                     : static_cast<sf_count_t>(reading.file.size());
        sf_count_t to = 0;
        if (__builtin_add_overflow(from, offset, &to) || to < 0) return sf_count_t{-1};
        return reading.at = to;
    };
    const auto read = [](void* into, sf_count_t count, void* data) {
        auto& reading = *static_cast<Reading*>(data);
        if (count <= 0) return sf_count_t{0};
        const auto at = static_cast<std::size_t>(reading.at);
        const std::size_t got =
            reading.file.read(at, static_cast<char*>(into), static_cast<std::size_t>(count));
        if (at < reading.front.size())
            std::memcpy(into, reading.front.data() + at, std::min(got, reading.front.size() - at));
        reading.at += static_cast<sf_count_t>(got);
        return static_cast<sf_count_t>(got);
    };
    const auto write = [](const void*, sf_count_t, void*) { return sf_count_t{0}; };
    const auto tell = [](void* data) { return static_cast<Reading*>(data)->at; };
    return {length, seek, read, write, tell};
}

struct Close {
    void operator()(SNDFILE* file) const { sf_close(file); }
};
using SoundHandle = std::unique_ptr<SNDFILE, Close>;

// ---- what the header says ----

struct Coding {
    std::string_view text;
    int bits = 0;  ///< of integers; 0 for floats
    std::uint64_t bytes = 0;
};
std::optional<Coding> coding_of(int format) {
    switch (format & SF_FORMAT_SUBMASK) {
        case SF_FORMAT_PCM_S8:
        case SF_FORMAT_PCM_U8:
            return Coding{"8-bit integers", 8, 1};
        case SF_FORMAT_PCM_16:
            return Coding{"16-bit integers", 16, 2};
        case SF_FORMAT_PCM_24:
            return Coding{"24-bit integers", 24, 3};
        case SF_FORMAT_PCM_32:
            return Coding{"32-bit integers", 32, 4};
        case SF_FORMAT_FLOAT:
            return Coding{"32-bit floats", 0, 4};
        case SF_FORMAT_DOUBLE:
            return Coding{"64-bit floats", 0, 8};
        default:
            return std::nullopt;
    }
}

std::string container_of(int format) {
    switch (format & SF_FORMAT_TYPEMASK) {
        case SF_FORMAT_RF64:
            return "RF64";
        case SF_FORMAT_W64:
            return "W64";
        case SF_FORMAT_AIFF:
            return "AIFF";
        default:
            return "WAV";
    }
}

std::uint64_t number_at(std::string_view head, std::size_t at, std::size_t bytes, bool big_endian) {
    std::uint64_t number = 0;
    for (std::size_t i = 0; i < bytes && at + bytes <= head.size(); ++i) {
        const std::size_t place = big_endian ? i : bytes - 1 - i;
        number = number << 8 | static_cast<unsigned char>(head[at + place]);
    }
    return number;
}

constexpr std::string_view wave64_sign = "riff\x2E\x91\xCF\x11\xA5\xD6\x28\xDB";

/// How long the file says it is; 0 when it does not say, as after a recorder that lost its power.
std::uint64_t stated_bytes(std::string_view head) {
    constexpr std::uint64_t unknown = 0xFFFFFFFF;
    if (head.starts_with(wave64_sign)) return number_at(head, 16, 8, false);
    // RF64 states it in a chunk that always comes first: "ds64", its length, then the file's.
    if (head.starts_with("RF64"))
        return head.size() >= 28 && head.substr(12).starts_with("ds64") ? number_at(head, 20, 8, false) + 8
                                                                        : 0;
    const std::uint64_t rest = number_at(head, 4, 4, head.starts_with("FORM") || head.starts_with("RIFX"));
    return rest == 0 || rest == unknown ? 0 : rest + 8;
}

void add_texts(SNDFILE* file, Description& about) {
    constexpr std::array<std::pair<int, const char*>, 10> texts{{{SF_STR_TITLE, "title"},
                                                                 {SF_STR_COPYRIGHT, "copyright"},
                                                                 {SF_STR_SOFTWARE, "software"},
                                                                 {SF_STR_ARTIST, "artist"},
                                                                 {SF_STR_COMMENT, "comment"},
                                                                 {SF_STR_DATE, "date"},
                                                                 {SF_STR_ALBUM, "album"},
                                                                 {SF_STR_LICENSE, "licence"},
                                                                 {SF_STR_TRACKNUMBER, "track"},
                                                                 {SF_STR_GENRE, "genre"}}};
    for (const auto& [which, key] : texts)
        if (const char* text = sf_get_string(file, which); text != nullptr && *text != '\0')
            about.metadata.emplace_back(key, readable(std::string_view(text).substr(0, 1000)));
    SF_BROADCAST_INFO broadcast{};
    if (sf_command(file, SFC_GET_BROADCAST_INFO, &broadcast, sizeof broadcast) != SF_TRUE) return;
    const auto add = [&](const char* key, const char* text, std::size_t room) {
        if (const std::size_t size = ::strnlen(text, room); size > 0)
            about.metadata.emplace_back(key, readable(std::string_view(text, size)));
    };
    add("description", broadcast.description, sizeof broadcast.description);
    add("originator", broadcast.originator, sizeof broadcast.originator);
    add("origination date", broadcast.origination_date, sizeof broadcast.origination_date);
    add("origination time", broadcast.origination_time, sizeof broadcast.origination_time);
}

// ---- samples ----

class Sound final : public Source {
  public:
    Sound(std::unique_ptr<Reading> reading, SoundHandle handle, const SF_INFO& info, double full_scale)
        : reading_(std::move(reading)),
          handle_(std::move(handle)),
          rate_(info.samplerate),
          width_(static_cast<std::size_t>(info.channels)),
          full_scale_(full_scale) {
        const std::size_t frames =
            std::clamp<std::size_t>(numbers_at_once / width_, 1, NumberRows::rows_a_block);
        interleaved_.resize(frames * width_);
        values_.resize(width_);
    }

    /// What is known before the channels are told apart: the first samples of each.
    Result<Layout> look() {
        if (auto error = read_on()) return *error;
        Layout layout;
        layout.part = "channel";
        layout.own_interval_s = 1.0 / rate_;
        layout.own_interval_text = fmt::format("{} samples a second", rate_);
        for (std::size_t c = 0; c < width_; ++c) {
            SeenColumn column;
            column.holds = SeenColumn::Holds::numbers;
            for (std::size_t i = 0; i < std::min<std::size_t>(3, time_s_.size()); ++i)
                column.first_cells.push_back(std::isfinite(values_[c][i]) ? shortest_text(values_[c][i])
                                                                          : "no number");
            layout.columns.push_back(std::move(column));
        }
        return layout;
    }
    void begin(ChannelPlan plan, Description description, const ReadOptions& options,
               std::optional<std::string> torn) {
        interval_s_ = options.sample_interval_s;
        description_ = std::move(description);
        torn_ = std::move(torn);
        rows_.emplace(std::move(plan.channels), full_scale_);
        if (interval_s_) count_time();
    }

    const Description& description() const override { return description_; }
    std::string sha256() override { return reading_->file.sha256(); }
    std::uint64_t bytes() const override { return reading_->file.size(); }

    Result<bool> next(Block& block) override {
        rows_->begin(block);
        Rows rows;
        for (;;) {
            rows.first_row = first_frame_;
            rows.time_s = time_s_;
            rows.values.assign(values_.begin(), values_.end());
            used_ = rows_->add(rows, used_, block);
            if (used_ < time_s_.size()) return true;
            if (time_s_.empty()) break;
            if (auto error = read_on()) return *error;
        }
        if (!ended_) {
            ended_ = true;
            if (torn_) rows_->note(Kind::torn_tail, *torn_);
            if (auto done = reading_->file.hash_all(); !done) return done.error();
        }
        return rows_->taken() > 0 || !block.notices.empty();
    }

  private:
    /// The next frames, none at the end.
    std::optional<Error> read_on() {
        first_frame_ += time_s_.size();
        used_ = 0;
        const auto room = static_cast<sf_count_t>(interleaved_.size() / width_);
        const sf_count_t got = sf_readf_double(handle_.get(), interleaved_.data(), room);
        if (got < 0 || sf_error(handle_.get()) != SF_ERR_NO_ERROR)
            return Error{Fault::unreadable,
                         fmt::format("cannot be read from sample {} on: {}", first_frame_ + 1,
                                     sf_strerror(handle_.get())),
                         reading_->file.name(), "Look for another copy of the recording"};
        time_s_.resize(static_cast<std::size_t>(got));
        count_time();
        for (std::size_t c = 0; c < width_; ++c) {
            values_[c].resize(time_s_.size());
            for (std::size_t i = 0; i < time_s_.size(); ++i) values_[c][i] = interleaved_[i * width_ + c];
        }
        return std::nullopt;
    }

    /// One division from the exact index: times neither drift nor depend on where reading began.
    void count_time() {
        for (std::size_t i = 0; i < time_s_.size(); ++i) {
            const auto index = static_cast<double>(first_frame_ + i);
            time_s_[i] = interval_s_ ? index * *interval_s_ : index / rate_;
        }
    }

    std::unique_ptr<Reading> reading_;
    SoundHandle handle_;  // reads through reading_, so it goes first
    double rate_;
    std::size_t width_;
    double full_scale_;
    std::optional<double> interval_s_;
    Description description_;
    std::optional<NumberRows> rows_;
    std::optional<std::string> torn_;

    // frames at hand
    std::vector<double> interleaved_, time_s_;
    std::vector<std::vector<double>> values_;  // one a channel
    std::uint64_t first_frame_ = 0;
    std::size_t used_ = 0;
    bool ended_ = false;
};

}  // namespace

bool looks_like_sound(std::string_view head) {
    if (head.size() < 16) return head.starts_with("RIFF") || head.starts_with("RF64");
    if (head.starts_with(wave64_sign)) return true;
    const std::string_view form = head.substr(8, 4);
    for (const std::string_view sign : {"RIFF", "RIFX", "RF64"})
        if (head.starts_with(sign)) return form == "WAVE";
    return head.starts_with("FORM") && (form == "AIFF" || form == "AIFC");
}

Result<std::unique_ptr<Source>> open_sound(Bytes bytes, const ReadOptions& options) {
    const Result<std::string_view> head = bytes.peek();
    if (!head) return head.error();
    const std::uint64_t stated = stated_bytes(*head);
    const std::string front = head->starts_with("RIFF") ? "RIFF" + std::string("\x08\0\0\0", 4) : "";
    Result<WholeFile> file = WholeFile::of(std::move(bytes));
    if (!file) return file.error();
    auto reading = std::make_unique<Reading>(Reading{std::move(file).value()});
    const std::string name = reading->file.name();
    const std::uint64_t size = reading->file.size();
    if (stated < size) reading->front = front;

    SF_VIRTUAL_IO through = through_reading();
    SF_INFO info{};
    SoundHandle handle(sf_open_virtual(&through, SFM_READ, &info, reading.get()));
    if (!handle)
        return Error{Fault::bad_input,
                     fmt::format("is a sound file that cannot be read: {}", sf_strerror(nullptr)), name,
                     "Look for another copy of the recording"};
    if (info.channels < 1 || info.samplerate < 1)
        return Error{Fault::bad_input, "is a sound file without channels or sampling rate", name,
                     "Look for another copy of the recording"};
    const auto coding = coding_of(info.format);
    if (!coding)
        return Error{Fault::bad_input,
                     "is a sound file whose samples are compressed with loss: they are not what was recorded",
                     name, "Record or save it uncompressed (PCM or floating point)"};

    Description about;
    about.file = name;
    about.format = "sound";
    add_texts(handle.get(), about);
    // The largest integer of either sign counts as full scale: some recorders never write the lowest one.
    const double full_scale = coding->bits > 0 ? 1 - std::ldexp(1, 1 - coding->bits) : HUGE_VAL;
    auto sound = std::make_unique<Sound>(std::move(reading), std::move(handle), info, full_scale);
    Result<Layout> layout = sound->look();
    if (!layout) return layout.error();
    if (layout->columns[0].first_cells.empty())
        return Error{Fault::bad_input, "is a sound file without a sample", name,
                     "Check that the recording was saved"};
    for (const auto& [key, value] : about.metadata) layout->metadata.push_back({0, key, value});
    if (!options.time.empty())
        return Error{Fault::bad_input,
                     fmt::format("--time {}: no channel of a sound file holds the time", options.time), name,
                     "Leave --time out; where the sampling rate is wrong, state --sample-interval"};
    Result<ChannelPlan> plan = plan_channels(*layout, options, name);
    if (!plan) return plan.error();
    about.dialect = fmt::format("{}, {}{}, {} channel{}", container_of(info.format), coding->text,
                                coding->bits > 0 ? " read as fractions of full scale" : "", info.channels,
                                info.channels == 1 ? "" : "s");
    for (std::size_t i = 0; i < plan->remarks.size(); ++i)
        about.dialect += (i == 0 ? "; " : ", ") + plan->remarks[i];
    for (const ChannelColumn& channel : plan->channels) about.channels.push_back(channel.description);
    std::optional<std::string> torn;
    const std::uint64_t of_samples =
        static_cast<std::uint64_t>(info.frames) * static_cast<std::uint64_t>(info.channels) * coding->bytes;
    if (stated > size)
        torn = fmt::format("the file ends {} bytes before the end that its header states", stated - size);
    else if (stated < of_samples)
        torn = "the header does not say how long the file is: the recorder did not close it";
    sound->begin(std::move(plan).value(), std::move(about), options, std::move(torn));
    return std::unique_ptr<Source>(std::move(sound));
}

}  // namespace ebbtide::recording
