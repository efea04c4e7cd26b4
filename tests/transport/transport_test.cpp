// What every line promises: bytes as they come, a time-out that is kept, an end, a lost link that is said.

#include <gtest/gtest.h>
#include <unistd.h>

#include <chrono>
#include <filesystem>
#include <fstream>
#include <thread>

#include "support/program.hpp"
#include "transport/growing_file.hpp"
#include "transport/pipe_pair.hpp"
#include "transport/serial.hpp"
#include "transport/tcp.hpp"

namespace ebbtide::transport {
namespace {

using testing_support::TemporaryFolder;
using testing_support::write_bytes;
using State = Arrival::State;

double seconds_since(std::chrono::steady_clock::time_point start) {
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

/// Reads until `count` bytes are there, or five seconds long.
std::string read_all(ByteStream& stream, std::size_t count) {
    std::string out;
    char room[4096];
    for (const auto start = std::chrono::steady_clock::now();
         out.size() < count && seconds_since(start) < 5;) {
        const auto arrival = stream.read(room, sizeof room, 0.1);
        if (!arrival || arrival->state == State::ended) break;
        out.append(room, arrival->count);
    }
    return out;
}

struct Connection {
    std::unique_ptr<Link> here, there;
};

Connection connection() {
    auto listener = TcpListener::on_loopback(0);
    EXPECT_TRUE(listener);
    auto here = connect_tcp("127.0.0.1", listener->port(), 5);
    EXPECT_TRUE(here) << here.error().text();
    auto there = listener->accept(5);
    EXPECT_TRUE(there);
    return {std::move(here).value(), std::move(there).value()};
}

}  // namespace

TEST(Tcp, CarriesBytesBothWays) {
    auto [here, there] = connection();
    ASSERT_TRUE(there->write("0.1,4987\n", 1));
    EXPECT_EQ(read_all(*here, 9), "0.1,4987\n");
    ASSERT_TRUE(here->write("go\n", 1));
    EXPECT_EQ(read_all(*there, 3), "go\n");
}

TEST(Tcp, IsQuietWhenNothingComesInTime) {
    auto [here, there] = connection();
    char room[8];
    const auto start = std::chrono::steady_clock::now();
    const auto arrival = here->read(room, sizeof room, 0.05);
    ASSERT_TRUE(arrival);
    EXPECT_EQ(arrival->state, State::quiet);
    // poll() never comes back before its time; ten seconds are slack for a busy machine.
    EXPECT_GE(seconds_since(start), 0.049);
    EXPECT_LT(seconds_since(start), 10.0);
}

TEST(Tcp, EndsWhenTheSenderCloses) {
    auto [here, there] = connection();
    ASSERT_TRUE(there->write("x", 1));
    there.reset();
    char room[8];
    EXPECT_EQ(read_all(*here, 2), "x");
    const auto arrival = here->read(room, sizeof room, 1);
    ASSERT_TRUE(arrival);
    EXPECT_EQ(arrival->state, State::ended);
}

TEST(Tcp, AWriteToALostLinkIsAnErrorAndNoSignal) {
    auto [here, there] = connection();
    there.reset();
    // The first writes may still go into the buffer of this computer.
    std::optional<Error> error;
    const std::string much(1 << 16, 'x');
    for (int i = 0; i < 100 && !error; ++i)
        if (const auto wrote = here->write(much, 1); !wrote) error = wrote.error();
    ASSERT_TRUE(error);
    EXPECT_EQ(error->code, Fault::unreadable);
    EXPECT_NE(error->text().find("tcp://127.0.0.1"), std::string::npos);
}

TEST(Tcp, APortWhereNobodyListensIsRefusedAtOnce) {
    std::uint16_t port = 0;
    {
        auto listener = TcpListener::on_loopback(0);
        ASSERT_TRUE(listener);
        port = listener->port();
    }
    const auto start = std::chrono::steady_clock::now();
    const auto link = connect_tcp("127.0.0.1", port, 60);
    ASSERT_FALSE(link);
    EXPECT_LT(seconds_since(start), 30.0) << "it did not wait its time";
    EXPECT_NE(link.error().text().find("refused"), std::string::npos) << link.error().text();
    EXPECT_FALSE(link.error().remedy.empty());
}

TEST(Tcp, WaitsForNobodyNoLongerThanAsked) {
    auto listener = TcpListener::on_loopback(0);
    ASSERT_TRUE(listener);
    const auto nobody = listener->accept(0.05);
    ASSERT_FALSE(nobody);
    EXPECT_NE(nobody.error().what.find("nobody"), std::string::npos);
}

TEST(SerialLine, CarriesEveryByteUntranslated) {
    PseudoTerminal logger;
    auto line = open_serial(logger.device(), 115200);
    ASSERT_TRUE(line) << line.error().text();
    std::string bytes;
    for (int byte = 0; byte < 256; ++byte) bytes += static_cast<char>(byte);
    logger.send(bytes);
    EXPECT_EQ(read_all(**line, bytes.size()), bytes);
    ASSERT_TRUE((*line)->write("start\n", 1));
    EXPECT_EQ(logger.received(6), "start\n");
}

TEST(SerialLine, APulledPlugIsALostLink) {
    PseudoTerminal logger;
    auto line = open_serial(logger.device(), 9600);
    ASSERT_TRUE(line);
    logger.unplug();
    char room[8];
    const auto arrival = (*line)->read(room, sizeof room, 1);
    ASSERT_FALSE(arrival);
    EXPECT_NE(arrival.error().what.find("the link is lost"), std::string::npos);
    EXPECT_NE(arrival.error().where.find(logger.device()), std::string::npos);
}

TEST(SerialLine, RefusesWhatIsNoneAndSpeedsNobodyHas) {
    const TemporaryFolder folder;
    write_bytes(folder / "file", "1,2\n");
    EXPECT_FALSE(open_serial(folder / "file", 9600));
    EXPECT_FALSE(open_serial(folder / "nothing", 9600));
    PseudoTerminal logger;
    const auto odd = open_serial(logger.device(), 12345);
    ASSERT_FALSE(odd);
    EXPECT_NE(odd.error().remedy.find("115200"), std::string::npos);
}

// RS-232 with 8N1 takes ten bit times a byte: start bit, eight data bits, stop bit. Common practice, no
// source.
TEST(SerialLine, CarriesATenthOfItsBaudInBytes) {
    EXPECT_EQ(bytes_a_second(115200), 11520);
}

TEST(GrowingFile, HandsOnWhatIsAppended) {
    const TemporaryFolder folder;
    write_bytes(folder / "log.csv", "0,1\n");
    auto file = follow_file(folder / "log.csv");
    ASSERT_TRUE(file);
    EXPECT_EQ(read_all(**file, 4), "0,1\n");
    char room[64];
    const auto quiet = (*file)->read(room, sizeof room, 0.03);
    ASSERT_TRUE(quiet);
    EXPECT_EQ(quiet->state, State::quiet);
    std::ofstream(folder / "log.csv", std::ios::app) << "1,2\n";
    EXPECT_EQ(read_all(**file, 4), "1,2\n");
}

TEST(GrowingFile, SaysThatItBecameShorter) {
    const TemporaryFolder folder;
    write_bytes(folder / "log.csv", "0,1\n1,2\n");
    auto file = follow_file(folder / "log.csv");
    ASSERT_TRUE(file);
    EXPECT_EQ(read_all(**file, 8).size(), 8u);
    std::filesystem::resize_file(folder / "log.csv", 4);
    char room[64];
    const auto arrival = (*file)->read(room, sizeof room, 1);
    ASSERT_FALSE(arrival);
    EXPECT_NE(arrival.error().what.find("shorter"), std::string::npos);
}

TEST(GrowingFile, SaysThatAnotherLiesUnderItsName) {
    const TemporaryFolder folder;
    write_bytes(folder / "log.csv", "0,1\n");
    auto file = follow_file(folder / "log.csv");
    ASSERT_TRUE(file);
    EXPECT_EQ(read_all(**file, 4).size(), 4u);
    std::filesystem::rename(folder / "log.csv", folder / "log.1.csv");
    write_bytes(folder / "log.csv", "0,9\n");
    char room[64];
    const auto arrival = (*file)->read(room, sizeof room, 1);
    ASSERT_FALSE(arrival);
    EXPECT_NE(arrival.error().what.find("another file"), std::string::npos);
}

TEST(GrowingFile, FollowsNoPipeAndNoFolder) {
    EXPECT_FALSE(follow_file("/dev/null"));
    EXPECT_FALSE(follow_file("/nowhere"));
}

}  // namespace ebbtide::transport
