#include "work/drive_log.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <utility>

namespace ebbtide::work {

using nlohmann::json;

json line_of(const bench::Happening& happening, Instant began) {
    json line{{"schema", "ebbtide.drive/1"},
              {"at", iso_text(began + Span::from_seconds(happening.bench_s))},
              {"bench_s", happening.bench_s},
              {"kind", bench::name_of(happening.kind)},
              {"phase", bench::name_of(happening.phase)},
              {"words", bench::words_of(happening)}};
    if (happening.kind == bench::Happening::Kind::phase) line["event"] = bench::name_of(happening.event);
    if (happening.command) {
        line["command"] = bench::name_of(happening.command->action);
        if (happening.command->action == bench::Action::set_voltage)
            line["voltage_V"] = happening.command->voltage_V;
    }
    if (happening.kind == bench::Happening::Kind::waits) {
        json guards = json::array();
        for (const bench::Guard guard : happening.unmet) guards.push_back(bench::name_of(guard));
        line["guards"] = std::move(guards);
    }
    return line;
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
