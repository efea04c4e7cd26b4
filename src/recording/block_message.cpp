#include "recording/block_message.hpp"

#include <cmath>
#include <cstring>

namespace ebbtide::recording {

namespace {

// Native byte order and sizes: both ends are the same program.
class Packer {
  public:
    template <class Number>
    void put(Number value) {
        static_assert(std::is_trivially_copyable_v<Number>);
        bytes_.append(reinterpret_cast<const char*>(&value), sizeof value);
    }
    void put_text(std::string_view text) {
        put(static_cast<std::uint64_t>(text.size()));
        bytes_ += text;
    }
    void put_numbers(const std::vector<double>& numbers) {
        put(static_cast<std::uint64_t>(numbers.size()));
        bytes_.append(reinterpret_cast<const char*>(numbers.data()), numbers.size() * sizeof(double));
    }
    [[nodiscard]] std::string bytes() && { return std::move(bytes_); }

  private:
    std::string bytes_;
};

/// After the first thing that does not fit, everything reads as nothing and whole() is false.
class Unpacker {
  public:
    explicit Unpacker(std::string_view bytes) : rest_(bytes) {}

    template <class Number>
    Number take() {
        Number value{};
        if (rest_.size() < sizeof value) {
            torn_ = true;
            rest_ = {};
        } else {
            std::memcpy(&value, rest_.data(), sizeof value);
            rest_.remove_prefix(sizeof value);
        }
        return value;
    }
    bool take_truth() { return take<unsigned char>() != 0; }
    std::string take_text() {
        const std::size_t size = count(1);
        std::string text(rest_.substr(0, size));
        rest_.remove_prefix(size);
        return text;
    }
    void take_numbers(std::vector<double>& into) {
        const std::size_t size = count(sizeof(double));
        into.resize(size);
        if (size > 0) std::memcpy(into.data(), rest_.data(), size * sizeof(double));
        rest_.remove_prefix(size * sizeof(double));
    }
    /// How many things of at least `each` bytes follow.
    std::size_t count(std::size_t each) {
        const auto size = take<std::uint64_t>();
        if (size <= rest_.size() / each) return static_cast<std::size_t>(size);
        torn_ = true;
        rest_ = {};
        return 0;
    }
    [[nodiscard]] bool whole() const { return !torn_ && rest_.empty(); }

  private:
    std::string_view rest_;
    bool torn_ = false;
};

bool in_order(const ChannelBlock& channel) {
    double last_s = -HUGE_VAL;
    for (std::size_t i = 0; i < channel.value.size(); ++i) {
        const double time_s = channel.time_s[i];
        if (!std::isfinite(time_s) || !std::isfinite(channel.value[i]) || time_s < last_s) return false;
        last_s = time_s;
    }
    return true;
}

}  // namespace

std::string packed(const Description& description) {
    Packer out;
    for (const std::string* text : {&description.file, &description.format, &description.dialect})
        out.put_text(*text);
    out.put(static_cast<std::uint64_t>(description.metadata.size()));
    for (const auto& [key, value] : description.metadata) {
        out.put_text(key);
        out.put_text(value);
    }
    out.put(static_cast<std::uint64_t>(description.channels.size()));
    for (const trace::ChannelDescription& channel : description.channels) {
        out.put_text(channel.heading);
        out.put_text(channel.unit);
        out.put(channel.factor_to_SI);
        out.put(channel.quantity);
        out.put(channel.column);
    }
    out.put(description.origin.has_value());
    if (description.origin) out.put(description.origin->ns);
    return std::move(out).bytes();
}

std::optional<Description> unpacked_description(std::string_view bytes) {
    Unpacker in(bytes);
    Description out;
    for (std::string* text : {&out.file, &out.format, &out.dialect}) *text = in.take_text();
    for (std::size_t left = in.count(16); left > 0; --left) {
        std::string key = in.take_text();
        out.metadata.emplace_back(std::move(key), in.take_text());
    }
    for (std::size_t left = in.count(24); left > 0; --left) {
        trace::ChannelDescription channel;
        channel.heading = in.take_text();
        channel.unit = in.take_text();
        channel.factor_to_SI = in.take<double>();
        channel.quantity = in.take<trace::Quantity>();
        channel.column = in.take<int>();
        if (name_of(channel.quantity).empty() || !std::isfinite(channel.factor_to_SI)) return std::nullopt;
        out.channels.push_back(std::move(channel));
    }
    if (in.take_truth()) out.origin = Instant{in.take<std::int64_t>()};
    return in.whole() ? std::optional(std::move(out)) : std::nullopt;
}

std::string packed(const Block& block) {
    Packer out;
    out.put(block.starts_segment);
    out.put(block.ends_segment);
    for (const ChannelBlock& channel : block.channels) {
        out.put_numbers(channel.time_s);
        out.put_numbers(channel.value);
    }
    out.put(static_cast<std::uint64_t>(block.notices.size()));
    for (const trace::Notice& notice : block.notices) {
        out.put(notice.kind);
        out.put(notice.line);
        out.put(notice.column);
        out.put(notice.count);
        out.put(notice.time_s);
        out.put_text(notice.text);
    }
    return std::move(out).bytes();
}

bool unpack_block(std::string_view bytes, std::size_t channels, Block& block) {
    Unpacker in(bytes);
    block.starts_segment = in.take_truth();
    block.ends_segment = in.take_truth();
    block.channels.resize(channels);
    for (ChannelBlock& channel : block.channels) {
        in.take_numbers(channel.time_s);
        in.take_numbers(channel.value);
        if (channel.time_s.size() != channel.value.size() || !in_order(channel)) return false;
    }
    block.notices.clear();
    for (std::size_t left = in.count(32); left > 0; --left) {
        trace::Notice notice{};
        notice.kind = in.take<trace::Notice::Kind>();
        notice.line = in.take<std::uint64_t>();
        notice.column = in.take<int>();
        notice.count = in.take<std::uint64_t>();
        notice.time_s = in.take<double>();
        notice.text = in.take_text();
        if (name_of(notice.kind).empty() || !std::isfinite(notice.time_s)) return false;
        block.notices.push_back(std::move(notice));
    }
    return in.whole();
}

std::string packed(const Error& error) {
    Packer out;
    out.put(error.code);
    for (const std::string* text : {&error.what, &error.where, &error.remedy}) out.put_text(*text);
    return std::move(out).bytes();
}

std::optional<Error> unpacked_error(std::string_view bytes) {
    Unpacker in(bytes);
    Error error;
    error.code = in.take<Fault>();
    for (std::string* text : {&error.what, &error.where, &error.remedy}) *text = in.take_text();
    if (error.code != Fault::unreadable) error.code = Fault::bad_input;
    return in.whole() ? std::optional(std::move(error)) : std::nullopt;
}

}  // namespace ebbtide::recording
