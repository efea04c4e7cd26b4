#include "work/drive_log.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <utility>

#include "record/json.hpp"
#include "work/live_json.hpp"

namespace ebbtide::work {

using nlohmann::json;

namespace {

/// The line of an event without what all lines have; nothing of an event that the log does not hold.
struct DriveLine {
    json operator()(const auto&) const { return {}; }

    json operator()(const SessionBegun& event) const {
        if (event.kind != SessionBegun::Kind::order) return {};
        return {{"kind", "session"},
                {"order", event.order},
                {"revision", event.revision},
                {"bench", event.bench},
                {"bench_revision", event.bench_revision},
                {"by", event.who},
                {"sequence", event.sequence},
                {"seed", event.seed},
                {"open", event.open},
                {"dry_run", event.dry_run}};
    }
    json operator()(const BenchFound& event) const {
        if (!event.output_was_on) return {};
        return {{"kind", "found"}, {"phase", "aborted"}, {"words", event.words}};
    }
    json operator()(const PhaseEntered& event) const {
        return {{"kind", "phase"}, {"phase", event.phase}, {"event", event.because}, {"words", event.words}};
    }
    json operator()(const GuardsChanged& event) const {
        json guards = json::array();
        for (const LiveGuard& guard : event.guards)
            if (guard.met == false) guards.push_back(guard.name);
        return {
            {"kind", "waits"}, {"phase", event.phase}, {"guards", std::move(guards)}, {"words", event.words}};
    }
    json operator()(const CommandSent& event) const { return command("command", event); }
    json operator()(const CommandRefused& event) const { return command("refused", event); }
    json operator()(const MayBeLive& event) const {
        return {{"kind", "live"}, {"phase", event.phase}, {"words", event.words}};
    }
    json operator()(const QuestionAsked& event) const {
        return {{"kind", "prompt"},
                {"number", event.question.number},
                {"prompt", name_of(event.question.kind)},
                {"words", event.question.words}};
    }
    json operator()(const QuestionAnswered& event) const {
        return {{"kind", "answer"},
                {"number", event.question.number},
                {"prompt", name_of(event.question.kind)},
                {"answer", name_of(event.answer)},
                {"by", event.who}};
    }
    json operator()(const CheckOverridden& event) const {
        return {{"kind", "override"}, {"by", event.who}, {"reason", event.reason}, {"words", event.words}};
    }
    json operator()(const RunBegun& event) const {
        return {{"kind", "run"}, {"what", "begins"}, {"label", label(event)}};
    }
    json operator()(const RunRecorded& event) const {
        return run("recorded", event, event.readings.value_or(RunReadings{}));
    }
    json operator()(const StepRecorded& event) const {
        json line = run("recorded", event, event.readings);
        line["words"] = "";
        return line;
    }
    json operator()(const RunAborted& event) const {
        return run(event.recorded ? "recorded" : "aborted", event, event.readings);
    }
    json operator()(const RunBrokenOff& event) const {
        return {{"kind", "run"}, {"what", "broken off"}, {"file", event.file}};
    }
    json operator()(const SessionEnded& event) const {
        return {{"kind", "end"},
                {"order", event.order},
                {"recorded", event.recorded},
                {"aborted", event.aborted},
                {"open", event.open},
                {"found_on", event.found_on},
                {"done", event.done},
                {"words", event.words},
                {"may_be_live", event.may_be_live}};
    }

  private:
    static std::string label(const auto& event) {
        if (event.place) return event.place->label();
        if constexpr (requires { event.step; }) return event.step;
        return "";
    }
    static json command(const char* kind, const auto& event) {
        json line{{"kind", kind}, {"phase", event.phase}, {"command", event.command}, {"words", event.words}};
        if (event.voltage_V) line["voltage_V"] = *event.voltage_V;
        return line;
    }
    static json run(const char* what, const auto& event, const RunReadings& readings) {
        json line{{"kind", "run"}, {"what", what}, {"label", label(event)}, {"file", event.file}};
        line.update(json_of(readings));
        if constexpr (requires { event.words; }) line["words"] = event.words;
        return line;
    }
};

}  // namespace

std::optional<json> drive_line(const LiveEvent& event, Instant began) {
    return std::visit(
        [&](const auto& one) -> std::optional<json> {
            json line = DriveLine{}(one);
            if constexpr (requires { one.bench_s; })
                if (const std::optional<double> bench_s = one.bench_s; bench_s && !line.is_null()) {
                    line["schema"] = "ebbtide.drive/1";
                    line["at"] = iso_text(began + Span::from_seconds(*bench_s));
                    line["bench_s"] = *bench_s;
                    return line;
                }
            return {};
        },
        event);
}

Result<DriveLog> DriveLog::open(const std::string& path) {
    DriveLog log;
    log.path_ = path;
    log.file_ = ::open(path.c_str(), O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0666);
    if (log.file_ < 0)
        return Error{Fault::unreadable, std::string("cannot be written: ") + std::strerror(errno), path,
                     "Check that the order's folder is there, writable and not full"};
    return log;
}

DriveLog::DriveLog(DriveLog&& other) noexcept
    : file_(std::exchange(other.file_, -1)), path_(std::move(other.path_)), fault_(std::move(other.fault_)) {}

DriveLog& DriveLog::operator=(DriveLog&& other) noexcept {
    std::swap(file_, other.file_);
    std::swap(path_, other.path_);
    std::swap(fault_, other.fault_);
    return *this;
}

DriveLog::~DriveLog() {
    if (file_ >= 0) ::close(file_);
}

void DriveLog::add(const json& line) {
    if (file_ < 0) return;
    // One write a line: a line is there whole or, after a power cut, torn at the very end.
    const std::string text = line.dump() + "\n";
    for (std::size_t done = 0; done < text.size();) {
        const ssize_t wrote = ::write(file_, text.data() + done, text.size() - done);
        if (wrote < 0 && errno == EINTR) continue;
        if (wrote <= 0) {
            fault_ = Error{Fault::unreadable, std::string("cannot be written: ") + std::strerror(errno),
                           path_, "Make room on the disk: what is sent to a bench must be logged"};
            return;
        }
        done += static_cast<std::size_t>(wrote);
    }
}

void DriveLog::sync() {
    if (file_ >= 0) static_cast<void>(::fsync(file_));
}

}  // namespace ebbtide::work
