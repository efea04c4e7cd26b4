#pragma once
// Where bytes of a recording go: a file whose every write is checked, or memory.

#include <cstdint>
#include <memory>
#include <string>
#include <string_view>

#include "basis/result.hpp"

namespace ebbtide::recording {

class ByteSink {
  public:
    virtual ~ByteSink() = default;
    /// All of the bytes, after those written before. Errors: the disk is full or does not answer.
    [[nodiscard]] virtual Result<Done> write(std::string_view bytes) = 0;
    /// Returns when what was written would outlive a power cut. Errors: as write().
    [[nodiscard]] virtual Result<Done> sync() = 0;
};

/// A new file; one that is there is replaced.
[[nodiscard]] Result<std::unique_ptr<ByteSink>> new_file(const std::string& path);
/// A file that is there, cut to its first `keep` bytes and written on behind them.
[[nodiscard]] Result<std::unique_ptr<ByteSink>> go_on_with_file(const std::string& path, std::uint64_t keep);

/// Appends to a string, which must outlive it.
class MemorySink final : public ByteSink {
  public:
    explicit MemorySink(std::string& into) : into_(into) {}
    [[nodiscard]] Result<Done> write(std::string_view bytes) override {
        into_ += bytes;
        return Done{};
    }
    [[nodiscard]] Result<Done> sync() override { return Done{}; }

  private:
    std::string& into_;
};

}  // namespace ebbtide::recording
