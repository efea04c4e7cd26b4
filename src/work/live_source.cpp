#include "work/live_source.hpp"

#include <fmt/format.h>

#include <charconv>
#include <map>
#include <optional>
#include <utility>

#include "basis/number_text.hpp"
#include "transport/buffered.hpp"
#include "transport/growing_file.hpp"
#include "transport/serial.hpp"
#include "transport/tcp.hpp"
#include "work/bench_at_hand.hpp"
#include "work/paced_source.hpp"
#include "work/simulated_stream.hpp"

namespace ebbtide::work {
namespace {

constexpr double attend_s = 0.05;
constexpr double connect_s = 5;
/// Some seconds of the fastest loggers: long enough for the work on a run.
constexpr std::size_t store_bytes = std::size_t{16} << 20;

/// Hands attention to the person between reads, so that one thread does all the work.
class Attended final : public transport::ByteStream {
  public:
    Attended(std::unique_ptr<transport::ByteStream> stream, Attend attend)
        : stream_(std::move(stream)), attend_(std::move(attend)) {}

    Result<transport::Arrival> read(char* into, std::size_t room, double timeout_s) override {
        using State = transport::Arrival::State;
        for (double waited_s = 0;;) {
            if (attend_ && !attend_()) return transport::Arrival{State::ended};
            auto arrival = stream_->read(into, room, attend_s);
            if (!arrival || arrival->state != State::quiet || arrival->lost > 0) return arrival;
            waited_s += attend_s;
            if (waited_s >= timeout_s) return arrival;
        }
    }
    const std::string& name() const override { return stream_->name(); }

  private:
    std::unique_ptr<transport::ByteStream> stream_;
    Attend attend_;
};

/// "serial:/dev/ttyUSB0?baud=115200" in its parts.
struct SourceWords {
    std::string kind, place;
    std::map<std::string, std::string> settings;
};

Error no_source(const std::string& source, std::string what) {
    return {Fault::bad_input, std::move(what), source,
            "Name -, a file, tcp://HOST:PORT, serial:/dev/ttyUSB0?baud=115200, replay:FILE?pace=1 or "
            "simulated:FILE?recording=NAME&pace=real"};
}

Result<SourceWords> source_words(const std::string& source) {
    SourceWords words;
    for (const char* kind : {"tcp://", "serial:", "replay:", "simulated:"})
        if (source.starts_with(kind)) words.kind = kind;
    words.place = source.substr(words.kind.size());
    if (words.kind.empty()) return words;
    if (const std::size_t mark = words.place.rfind('?'); mark != std::string::npos) {
        std::string settings = words.place.substr(mark + 1);
        words.place.resize(mark);
        for (std::size_t at = 0; at < settings.size();) {
            const std::size_t end = std::min(settings.find('&', at), settings.size());
            const std::size_t equals = settings.find('=', at);
            if (equals >= end)
                return no_source(source, fmt::format("'{}' is no setting", settings.substr(at, end - at)));
            words.settings[settings.substr(at, equals - at)] = settings.substr(equals + 1, end - equals - 1);
            at = end + 1;
        }
    }
    if (words.place.empty()) return no_source(source, "names no place");
    return words;
}

/// Takes the number out of the settings. Error: it is none, or out of range.
Result<double> setting(SourceWords& words, const std::string& key, double otherwise, double most,
                       const std::string& source) {
    const auto found = words.settings.find(key);
    if (found == words.settings.end()) return otherwise;
    const auto number = parse_number(found->second);
    if (!number || *number < 0 || *number > most)
        return no_source(source,
                         fmt::format("'{}' of {} is no number from 0 to {}", found->second, key, most));
    words.settings.erase(found);
    return *number;
}

/// Takes the text out of the settings.
std::string setting_text(SourceWords& words, const std::string& key, const std::string& otherwise) {
    auto found = words.settings.extract(key);
    return found.empty() ? otherwise : found.mapped();
}

std::optional<Error> unknown_settings(const SourceWords& words, const std::string& source) {
    if (words.settings.empty()) return {};
    return no_source(source,
                     fmt::format("'{}' is no setting of such a source", words.settings.begin()->first));
}

Result<std::unique_ptr<transport::ByteStream>> tcp_stream(const SourceWords& words,
                                                          const std::string& source) {
    const std::size_t colon = words.place.rfind(':');
    std::uint16_t port = 0;
    if (colon != std::string::npos) {
        const char* const end = words.place.data() + words.place.size();
        const auto read = std::from_chars(words.place.data() + colon + 1, end, port);
        if (read.ec != std::errc() || read.ptr != end) port = 0;
    }
    if (port == 0 || colon == 0) return no_source(source, "names no host and port");
    std::string host = words.place.substr(0, colon);
    if (host.size() > 2 && host.front() == '[' && host.back() == ']') host = host.substr(1, host.size() - 2);
    auto link = transport::connect_tcp(host, port, connect_s);
    if (!link) return link.error();
    return transport::buffered(std::move(link).value(), store_bytes, transport::WhenFull::wait);
}

Result<LiveSource> from_stream(std::unique_ptr<transport::ByteStream> stream,
                               const LiveSourceRequest& request, std::string ceiling = "") {
    auto samples =
        recording::open_stream(std::make_unique<Attended>(std::move(stream), request.attend), request.read);
    if (!samples) return samples.error();
    return LiveSource{std::move(samples).value(), std::move(ceiling)};
}

}  // namespace

Result<LiveSource> open_live_source(const LiveSourceRequest& request) {
    const std::string& source = request.source;
    auto words = source_words(source);
    if (!words) return words.error();
    if (words->kind == "serial:") {
        const auto baud = setting(*words, "baud", 115200, 4e6, source);
        if (!baud) return baud.error();
        if (auto unknown = unknown_settings(*words, source)) return *unknown;
        const int speed = static_cast<int>(*baud);
        auto line = transport::open_serial(words->place, speed);
        if (!line) return line.error();
        return from_stream(
            transport::buffered(std::move(line).value(), store_bytes, transport::WhenFull::drop), request,
            fmt::format("{} baud carry {} bytes a second at most, some {} lines of 20 bytes", speed,
                        transport::bytes_a_second(speed),
                        static_cast<int>(transport::bytes_a_second(speed) / 20)));
    }
    if (words->kind == "replay:") {
        const auto pace = setting(*words, "pace", 1, 1e9, source);
        if (!pace) return pace.error();
        if (auto unknown = unknown_settings(*words, source)) return *unknown;
        auto recorded = recording::open(words->place, request.read);
        if (!recorded) return recorded.error();
        return LiveSource{paced(std::move(recorded).value(), *pace, request.attend), ""};
    }
    if (words->kind == "simulated:") {
        const auto pace = pace_named(setting_text(*words, "pace", "real"));
        if (!pace) return pace.error();
        const std::string recording = setting_text(*words, "recording", "");
        if (auto unknown = unknown_settings(*words, source)) return *unknown;
        auto stream = simulated_stream(words->place, recording, *pace, source);
        if (!stream) return stream.error();
        return from_stream(std::move(stream).value(), request);
    }
    if (auto unknown = unknown_settings(*words, source)) return *unknown;
    if (words->kind == "tcp://") {
        auto stream = tcp_stream(*words, source);
        if (!stream) return stream.error();
        return from_stream(std::move(stream).value(), request);
    }
    if (source == "-") return from_stream(transport::standard_input(), request);
    if (request.follow) {
        auto file = transport::follow_file(source);
        if (!file) return file.error();
        return from_stream(std::move(file).value(), request);
    }
    auto recorded = recording::open(source, request.read);
    if (!recorded) return recorded.error();
    return LiveSource{paced(std::move(recorded).value(), 0, request.attend), ""};
}

}  // namespace ebbtide::work
