#pragma once
// A file descriptor that can be waited for: what sockets, serial lines and pipes have in common.

#include <cstdint>
#include <memory>
#include <string>

#include "transport/byte_stream.hpp"

namespace ebbtide::transport {

/// Closes it at the end.
class Descriptor {
  public:
    explicit Descriptor(int file = -1) : file_(file) {}
    Descriptor(Descriptor&& other) noexcept;
    Descriptor& operator=(Descriptor&& other) noexcept;
    ~Descriptor();
    [[nodiscard]] int get() const { return file_; }
    [[nodiscard]] bool open() const { return file_ >= 0; }

  private:
    int file_;
};

/// Until when something may last.
class Deadline {
  public:
    /// Seconds from now, by a clock that nobody sets; at most some years.
    explicit Deadline(double seconds);
    /// Milliseconds that are left, rounded up; 0 when none are.
    [[nodiscard]] int left_ms() const;

  private:
    std::int64_t end_ns_;
};

/// Waits until the descriptor can be read (or written). False: not in time. Error: errno of poll().
[[nodiscard]] Result<bool> wait_for(int file, bool to_write, const Deadline& deadline,
                                    const std::string& name);

/// The descriptor as a link; `remedy` is what to do when it is lost.
class DescriptorLink : public Link {
  public:
    DescriptorLink(Descriptor descriptor, std::string name, std::string remedy)
        : descriptor_(std::move(descriptor)), name_(std::move(name)), remedy_(std::move(remedy)) {}

    Result<Arrival> read(char* into, std::size_t room, double timeout_s) override;
    Result<Done> write(std::string_view bytes, double timeout_s) override;
    const std::string& name() const override { return name_; }

  protected:
    [[nodiscard]] int file() const { return descriptor_.get(); }
    [[nodiscard]] Error lost(int cause) const;
    /// How bytes leave: sockets must not raise SIGPIPE.
    [[nodiscard]] virtual long put(const char* bytes, std::size_t count);
    /// Whether its senders can close it in good order.
    [[nodiscard]] virtual bool can_end() const { return true; }

  private:
    Descriptor descriptor_;
    std::string name_, remedy_;
};

/// Standard input, or whatever stands on that descriptor, which stays open.
[[nodiscard]] std::unique_ptr<ByteStream> standard_input();

}  // namespace ebbtide::transport
