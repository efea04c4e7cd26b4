#include "recording/container_layout.hpp"

#include <fmt/format.h>

#include <array>
#include <bit>
#include <cmath>
#include <cstring>
#include <nlohmann/json.hpp>

#include "basis/sha256.hpp"

namespace ebbtide::recording::container {
namespace {

using nlohmann::json;

static_assert(std::endian::native == std::endian::little, "numbers are written as they lie in memory");

template <class Number>
void put(std::string& out, Number number) {
    out.append(reinterpret_cast<const char*>(&number), sizeof number);
}
void put(std::string& out, const double* from, std::size_t count) {
    out.append(reinterpret_cast<const char*>(from), count * sizeof(double));
}
double read_double(const char* at) {
    double number = 0;
    std::memcpy(&number, at, sizeof number);
    return number;
}

Error broken(std::string rule) {
    return {Fault::bad_input, std::move(rule), "", ""};
}

// Names of files and cells may hold any bytes; what leaves here is UTF-8.
std::string text_of(const json& document) {
    return document.dump(-1, ' ', false, json::error_handler_t::replace);
}

// Typed looks into JSON that may hold anything.
std::string text_at(const json& object, const char* key) {
    const auto found = object.find(key);
    return found != object.end() && found->is_string() ? found->get<std::string>() : std::string();
}
double number_at(const json& object, const char* key, double otherwise) {
    const auto found = object.find(key);
    return found != object.end() && found->is_number() ? found->get<double>() : otherwise;
}
template <class Whole>
Whole whole_at(const json& object, const char* key) {
    const double number = number_at(object, key, 0);
    // Doubles hold whole numbers exactly up to 2^53, which no count here exceeds.
    return number >= 0 && number <= 2147483647.0 * (sizeof(Whole) > 4 ? 4194304.0 : 1.0)
               ? static_cast<Whole>(number)
               : Whole{0};
}

using Metadata = std::vector<std::pair<std::string, std::string>>;

json json_of(const Metadata& metadata) {
    json out = json::array();
    for (const auto& [key, value] : metadata) out.push_back({key, value});
    return out;
}
Metadata metadata_of(const json& object) {
    Metadata out;
    const auto found = object.find("metadata");
    if (found == object.end() || !found->is_array()) return out;
    for (const json& pair : *found)
        if (pair.is_array() && pair.size() == 2 && pair[0].is_string() && pair[1].is_string())
            out.emplace_back(pair[0], pair[1]);
    return out;
}

json json_of(const trace::Notice& notice) {
    return {{"kind", trace::name_of(notice.kind)},
            {"line", notice.line},
            {"column", notice.column},
            {"count", notice.count},
            {"time_s", notice.time_s},
            {"text", notice.text}};
}
std::optional<trace::Notice> notice_of(const json& object) {
    if (!object.is_object()) return {};
    const auto kind = trace::notice_kind_named(text_at(object, "kind"));
    if (!kind) return {};
    trace::Notice notice;
    notice.kind = *kind;
    notice.line = whole_at<std::uint64_t>(object, "line");
    notice.column = whole_at<int>(object, "column");
    notice.count = std::max<std::uint64_t>(1, whole_at<std::uint64_t>(object, "count"));
    notice.time_s = number_at(object, "time_s", 0);
    notice.text = text_at(object, "text");
    return notice;
}

json parsed(std::string_view payload) {
    json document = json::parse(payload, nullptr, false);
    return document.is_object() ? document : json();
}

}  // namespace

bool looks_like_one(std::string_view head) {
    return head.starts_with(magic);
}

std::uint32_t read_u32(const char* at) {
    std::uint32_t number = 0;
    std::memcpy(&number, at, sizeof number);
    return number;
}
std::uint64_t read_u64(const char* at) {
    std::uint64_t number = 0;
    std::memcpy(&number, at, sizeof number);
    return number;
}

std::string checksum_of(std::string_view header_and_payload) {
    Sha256 hash;
    hash.add(header_and_payload);
    const auto digest = hash.digest();
    return {reinterpret_cast<const char*>(digest.data()), checksum_bytes};
}

std::string record(RecordType type, std::uint64_t number, std::string_view payload) {
    std::string out;
    out.reserve(header_bytes + payload.size() + checksum_bytes);
    out += sync_word;
    put(out, static_cast<std::uint32_t>(type));
    put(out, static_cast<std::uint32_t>(payload.size()));
    put(out, number);
    out += payload;
    out += checksum_of(out);
    return out;
}

// ---- description ----

std::string description_payload(const Contents& contents, bool with_metadata) {
    const Description& about = contents.about;
    json channels = json::array();
    for (const trace::ChannelDescription& channel : about.channels)
        channels.push_back({{"heading", channel.heading},
                            {"unit", channel.unit},
                            {"factor_to_SI", channel.factor_to_SI},
                            {"quantity", trace::name_of(channel.quantity)},
                            {"column", channel.column}});
    return text_of({{"schema", "ebbtide.container/1"},
                    {"holds", contents.holds_runs ? "runs" : "recording"},
                    {"file", about.file},
                    {"format", about.format},
                    {"dialect", about.dialect},
                    {"channels", std::move(channels)},
                    {"metadata", with_metadata ? json_of(about.metadata) : json::array()},
                    {"origin", about.origin ? json(iso_text(*about.origin)) : json()}});
}

Result<Contents> parse_description(std::string_view payload) {
    const json document = parsed(payload);
    if (!document.is_object() || text_at(document, "schema") != "ebbtide.container/1")
        return broken("a description says 'schema': 'ebbtide.container/1'");
    Contents contents;
    contents.holds_runs = text_at(document, "holds") == "runs";
    contents.about.file = text_at(document, "file");
    contents.about.format = text_at(document, "format");
    contents.about.dialect = text_at(document, "dialect");
    contents.about.metadata = metadata_of(document);
    if (const std::string origin = text_at(document, "origin"); !origin.empty()) {
        const auto instant = parse_instant(origin);
        if (!instant) return broken("the origin is an instant");
        contents.about.origin = *instant;
    }
    const auto channels = document.find("channels");
    if (channels == document.end() || !channels->is_array() || channels->empty())
        return broken("a description lists its channels");
    for (const json& one : *channels) {
        if (!one.is_object()) return broken("a channel is an object");
        trace::ChannelDescription channel;
        const auto quantity = trace::quantity_named(text_at(one, "quantity"));
        channel.heading = text_at(one, "heading");
        channel.unit = text_at(one, "unit");
        channel.factor_to_SI = number_at(one, "factor_to_SI", 1);
        channel.quantity = quantity.value_or(trace::Quantity::other);
        channel.column = whole_at<int>(one, "column");
        contents.about.channels.push_back(std::move(channel));
    }
    return contents;
}

// ---- samples ----

std::string samples_payload(const std::vector<ChannelBlock>& channels,
                            const std::vector<Stretch>& stretches) {
    std::string out;
    put(out, static_cast<std::uint32_t>(channels.size()));
    put(out, std::uint32_t{0});
    for (std::size_t c = 0; c < channels.size(); ++c) {
        const auto [first, end] = stretches[c];
        const std::size_t count = end - first;
        const double* times = channels[c].time_s.data() + first;
        // Mostly all channels share one time column, often that of the first.
        std::uint32_t same_as = 0;
        for (std::size_t other = 0; other < std::min<std::size_t>(c, 4) && same_as == 0; ++other)
            if (stretches[other].end - stretches[other].first == count && count > 0 &&
                std::memcmp(times, channels[other].time_s.data() + stretches[other].first,
                            count * sizeof(double)) == 0)
                same_as = static_cast<std::uint32_t>(other + 1);
        put(out, static_cast<std::uint32_t>(count));
        put(out, same_as);
        if (same_as == 0) put(out, times, count);
        put(out, channels[c].value.data() + first, count);
    }
    return out;
}

Result<Done> parse_samples(std::string_view payload, std::vector<ChannelBlock>& channels) {
    const Error length = broken("a samples record is as long as its channels say");
    std::size_t at = 0;
    const auto left = [&] { return payload.size() - at; };
    const auto take = [&](std::size_t count, std::vector<double>& into) {
        if (left() / sizeof(double) < count) return false;
        into.resize(count);
        if (count > 0) std::memcpy(into.data(), payload.data() + at, count * sizeof(double));
        at += count * sizeof(double);
        return true;
    };
    if (left() < 8) return length;
    if (read_u32(payload.data()) != channels.size())
        return broken("a samples record has the channels of the description");
    at += 8;
    for (std::size_t c = 0; c < channels.size(); ++c) {
        if (left() < 8) return length;
        const std::size_t count = read_u32(payload.data() + at);
        const std::size_t same_as = read_u32(payload.data() + at + 4);
        at += 8;
        ChannelBlock& channel = channels[c];
        if (same_as > c) return broken("times are shared with an earlier channel");
        if (same_as > 0) {
            if (channels[same_as - 1].time_s.size() != count)
                return broken("channels that share times have as many samples");
            channel.time_s = channels[same_as - 1].time_s;
        } else if (!take(count, channel.time_s)) {
            return length;
        }
        if (!take(count, channel.value)) return length;
        for (std::size_t i = 0; i < count; ++i) {
            if (!std::isfinite(channel.time_s[i]) || !std::isfinite(channel.value[i]))
                return broken("samples are finite numbers");
            if (i > 0 && channel.time_s[i] < channel.time_s[i - 1])
                return broken("times do not decrease within a segment");
        }
    }
    if (left() != 0) return length;
    return Done{};
}

// ---- notice, run, end ----

std::string notice_payload(const trace::Notice& notice) {
    return text_of(json_of(notice));
}

Result<trace::Notice> parse_notice(std::string_view payload) {
    auto notice = notice_of(parsed(payload));
    if (!notice) return broken("a notice is of a known kind");
    return std::move(*notice);
}

std::string run_payload(const KeptRun& run) {
    std::string out;
    const trace::RunSpan& span = run.span;
    for (const std::uint64_t index : {span.first, span.charge_start, span.last_high, span.first_low, span.end,
                                      std::uint64_t{span.starts_charged ? 1u : 0u}})
        put(out, index);
    for (const double level : {span.base, span.height, span.sign, run.base, run.top}) put(out, level);
    return out;
}

Result<KeptRun> parse_run(std::string_view payload) {
    if (payload.size() != 11 * 8) return broken("a run record is 88 bytes long");
    std::array<std::uint64_t, 6> index{};
    std::array<double, 5> level{};
    for (std::size_t i = 0; i < index.size(); ++i) index[i] = read_u64(payload.data() + 8 * i);
    for (std::size_t i = 0; i < level.size(); ++i) {
        level[i] = read_double(payload.data() + 8 * (index.size() + i));
        if (!std::isfinite(level[i])) return broken("levels of a run are finite numbers");
    }
    const bool ordered = index[0] == 0 && index[1] <= index[4] && index[2] <= index[4] &&
                         index[3] <= index[4] && index[5] <= 1;
    if (!ordered) return broken("the sample numbers of a run lie within it");
    if (std::abs(level[2]) != 1 || level[1] < 0) return broken("a run has a height and a sign");
    KeptRun run;
    run.span = {index[0],      index[1], index[2], index[3], index[4],
                index[5] == 1, level[0], level[2], level[1]};
    run.base = level[3];
    run.top = level[4];
    return run;
}

std::string end_payload(const Original& original) {
    json notices = json::array();
    for (const trace::Notice& notice : original.notices) notices.push_back(json_of(notice));
    return text_of({{"sha256", original.sha256},
                    {"bytes", original.bytes},
                    {"metadata", json_of(original.metadata)},
                    {"notices", std::move(notices)}});
}

Result<Original> parse_end(std::string_view payload) {
    const json document = parsed(payload);
    if (!document.is_object()) return broken("an end is a JSON object");
    Original original;
    original.sha256 = text_at(document, "sha256");
    original.bytes = whole_at<std::uint64_t>(document, "bytes");
    original.metadata = metadata_of(document);
    if (const auto notices = document.find("notices"); notices != document.end() && notices->is_array())
        for (const json& one : *notices)
            if (auto notice = notice_of(one)) original.notices.push_back(std::move(*notice));
    return original;
}

}  // namespace ebbtide::recording::container
