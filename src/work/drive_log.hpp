#pragma once
// What happens while a bench is driven, as lines of JSON: docs/formats/drive.md. Each line is out of our
// hands before the next thing happens.

#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "basis/instant.hpp"
#include "basis/result.hpp"
#include "work/live_event.hpp"

namespace ebbtide::work {

/// In the order's folder.
inline constexpr const char* drive_log_name = "drive.log.jsonl";

/// The line of an event, where it has one. `began`: the instant at which the bench's clock stood at 0.
[[nodiscard]] std::optional<nlohmann::json> drive_line(const LiveEvent& event, Instant began);

/// A file that lines are added to, for ever. One thread.
class DriveLog {
  public:
    DriveLog() = default;  ///< of a dry run: takes lines and writes none
    [[nodiscard]] static Result<DriveLog> open(const std::string& path);
    DriveLog(DriveLog&& other) noexcept;
    DriveLog& operator=(DriveLog&& other) noexcept;
    ~DriveLog();

    /// A write that failed is kept and told by fault(): a full disk must not keep a command from being sent.
    void add(const nlohmann::json& line);
    /// Waits until the disk has all lines.
    void sync();
    [[nodiscard]] const std::optional<Error>& fault() const { return fault_; }

  private:
    int file_ = -1;
    std::string path_;
    std::optional<Error> fault_;
};

}  // namespace ebbtide::work
