#include "transport/serial.hpp"

#include <fcntl.h>
#include <linux/serial.h>
#include <sys/ioctl.h>
#include <termios.h>

#include <array>
#include <cerrno>
#include <cstring>
#include <utility>

#include <fmt/format.h>

#include "transport/descriptor.hpp"

namespace ebbtide::transport {
namespace {

constexpr std::array<std::pair<int, speed_t>, 16> speeds{{{1200, B1200},
                                                          {2400, B2400},
                                                          {4800, B4800},
                                                          {9600, B9600},
                                                          {19200, B19200},
                                                          {38400, B38400},
                                                          {57600, B57600},
                                                          {115200, B115200},
                                                          {230400, B230400},
                                                          {460800, B460800},
                                                          {500000, B500000},
                                                          {921600, B921600},
                                                          {1000000, B1000000},
                                                          {2000000, B2000000},
                                                          {3000000, B3000000},
                                                          {4000000, B4000000}}};

/// Characters that the port's own buffer ran over, where its driver counts them.
std::uint64_t overrun_of(int file) {
    struct serial_icounter_struct counted {};
    if (::ioctl(file, TIOCGICOUNT, &counted) != 0) return 0;
    return static_cast<std::uint64_t>(static_cast<unsigned>(counted.overrun)) +
           static_cast<std::uint64_t>(static_cast<unsigned>(counted.buf_overrun));
}

class SerialLine final : public DescriptorLink {
  public:
    SerialLine(Descriptor descriptor, std::string name)
        : DescriptorLink(std::move(descriptor), std::move(name),
                         "Check the plug and the logger's power, then open the line again"),
          overrun_(overrun_of(file())) {}

    Result<Arrival> read(char* into, std::size_t room, double timeout_s) override {
        auto arrival = DescriptorLink::read(into, room, timeout_s);
        if (arrival && arrival->count > 0)
            if (const std::uint64_t overrun = overrun_of(file()); overrun > overrun_)
                arrival->lost = overrun - std::exchange(overrun_, overrun);
        return arrival;
    }

  protected:
    // It reads as ended when its plug was pulled.
    bool can_end() const override { return false; }

  private:
    std::uint64_t overrun_;
};

}  // namespace

Result<std::unique_ptr<Link>> open_serial(const std::string& device, int baud) {
    const auto wrong = [&device](const std::string& what, const std::string& remedy) {
        return Error{Fault::unreadable, what, device, remedy};
    };
    speed_t speed = B0;
    std::string known;
    for (const auto& [number, code] : speeds) {
        if (number == baud) speed = code;
        known += fmt::format("{}{}", known.empty() ? "" : ", ", number);
    }
    if (speed == B0)
        return Error{Fault::bad_input, fmt::format("{} baud is no speed of a line", baud), device,
                     "Take one of " + known};
    // Without waiting for a carrier, which loggers rarely raise.
    Descriptor line(::open(device.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC));
    if (!line.open())
        return wrong(std::string("cannot be opened: ") + std::strerror(errno),
                     "Check the device's name and that you may use it (group dialout)");
    struct termios settings {};
    if (::tcgetattr(line.get(), &settings) != 0)
        return wrong("is no serial line", "Name the device of the line, such as /dev/ttyUSB0");
    if (::ioctl(line.get(), TIOCEXCL) != 0)
        return wrong(std::string("cannot be had alone: ") + std::strerror(errno),
                     "End the other program that reads the line");
    ::cfmakeraw(&settings);
    settings.c_cflag &= ~static_cast<tcflag_t>(PARENB | CSTOPB | CSIZE | CRTSCTS);
    settings.c_cflag |= CS8 | CLOCAL | CREAD;
    settings.c_cc[VMIN] = 1;
    settings.c_cc[VTIME] = 0;
    if (::cfsetispeed(&settings, speed) != 0 || ::cfsetospeed(&settings, speed) != 0 ||
        ::tcsetattr(line.get(), TCSANOW, &settings) != 0)
        return wrong(std::string("cannot be set up: ") + std::strerror(errno), "Try another speed");
    // A request that is only half granted is no failure of tcsetattr.
    struct termios granted {};
    if (::tcgetattr(line.get(), &granted) != 0 || ::cfgetispeed(&granted) != speed)
        return wrong(fmt::format("does not run at {} baud", baud), "Try another speed");
    return std::unique_ptr<Link>(std::make_unique<SerialLine>(std::move(line), device));
}

}  // namespace ebbtide::transport
