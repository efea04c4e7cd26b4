#pragma once
// Files that were sent to be looked at. They stay in memory until they are kept in an order, or others take
// their room.

#include <list>
#include <memory>
#include <mutex>
#include <string>

#include "recording/source.hpp"

namespace ebbtide::server {

struct HeldImport {
    std::string id;
    std::string name;  ///< as it was sent: a label
    std::shared_ptr<const std::string> bytes;
    recording::ReadOptions options;
};

/// Thread safe. Memory: the last four files, and no more than `at_most_bytes`.
class HeldImports {
  public:
    explicit HeldImports(std::size_t at_most_bytes = std::size_t{256} << 20)
        : at_most_bytes_(at_most_bytes) {}

    /// The id is made of the bytes and how they are to be read.
    HeldImport hold(std::string name, std::shared_ptr<const std::string> bytes,
                    recording::ReadOptions options);
    [[nodiscard]] std::optional<HeldImport> named(const std::string& id) const;

  private:
    static constexpr std::size_t at_most = 4;
    std::size_t at_most_bytes_;
    mutable std::mutex mutex_;
    std::list<HeldImport> files_;  // the last first
};

}  // namespace ebbtide::server
