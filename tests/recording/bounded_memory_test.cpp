// Memory stays bounded on a recording of any size that comes through a pipe.

#include <gtest/gtest.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdlib>
#include <string>
#include <thread>

#include "recording/source.hpp"

namespace ebbtide::recording {

namespace {

constexpr std::uint64_t gigabyte = 1'000'000'000;

// Writes a charge and its fall over and over, up to `size` bytes, as a logger would send them.
void send(int pipe, std::uint64_t size) {
    std::string cycle;
    for (int i = 0; i < 4000; ++i)
        cycle += std::to_string(i * 0.001).substr(0, 5) + "\t" + std::to_string(5000 - i) + ".25\t12.5\n";
    std::string text = "time_s\tspecimen_V\tRH [%]\n";
    for (std::uint64_t sent = 0; sent < size; text = cycle)
        for (std::size_t at = 0; at < text.size();) {
            const ssize_t wrote = ::write(pipe, text.data() + at, text.size() - at);
            if (wrote <= 0) return;
            at += static_cast<std::size_t>(wrote);
            sent += static_cast<std::uint64_t>(wrote);
        }
}

struct Outcome {
    std::uint64_t samples = 0, segments = 0, bytes = 0;
    bool ok = false;
};

// Reads standard input, which is the pipe, in a process of its own, so that its peak memory is its own.
Outcome read_standard_input() {
    Outcome out;
    ReadOptions options;
    options.hash = false;
    auto source = open("-", options);
    if (!source) return out;
    Block block;
    for (;;) {
        const Result<bool> more = (*source)->next(block);
        if (!more) return out;
        if (!*more) break;
        out.segments += block.starts_segment ? 1 : 0;
        out.samples += block.channels[0].value.size();
    }
    out.bytes = (*source)->bytes();
    out.ok = true;
    return out;
}

}  // namespace

TEST(BoundedMemory, ReadsAGigabyteFromAPipeInUnder256MiB) {
    const std::uint64_t size = std::getenv("EBBTIDE_LONG") != nullptr ? 10 * gigabyte : gigabyte;
    int data[2], answer[2];
    ASSERT_EQ(::pipe(data), 0);
    ASSERT_EQ(::pipe(answer), 0);
    const pid_t child = ::fork();
    ASSERT_GE(child, 0);
    if (child == 0) {
        ::dup2(data[0], STDIN_FILENO);
        for (const int end : {data[0], data[1], answer[0]}) ::close(end);
        const Outcome out = read_standard_input();
        const ssize_t wrote = ::write(answer[1], &out, sizeof out);
        ::_exit(wrote == sizeof out ? 0 : 1);
    }
    ::close(data[0]);
    ::close(answer[1]);
    std::thread writer([&] {
        send(data[1], size);
        ::close(data[1]);
    });
    Outcome out;
    const ssize_t got = ::read(answer[0], &out, sizeof out);
    writer.join();
    int status = 0;
    struct rusage usage {};
    ASSERT_EQ(::wait4(child, &status, 0, &usage), child);
    ASSERT_EQ(got, static_cast<ssize_t>(sizeof out));
    EXPECT_TRUE(out.ok);
    EXPECT_GE(out.bytes, size);
    EXPECT_GT(out.segments, 1000u);
    EXPECT_NEAR(static_cast<double>(out.samples), 4000.0 * static_cast<double>(out.segments), 4000.0);
    EXPECT_LT(usage.ru_maxrss, 256 * 1024) << "KiB";
}

TEST(BoundedMemory, ReadsFromANamedPipe) {
    const std::string path = testing::TempDir() + "ebbtide_fifo_" + std::to_string(::getpid());
    ASSERT_EQ(::mkfifo(path.c_str(), 0600), 0);
    std::thread writer([&] {
        std::FILE* out = std::fopen(path.c_str(), "w");
        std::fputs("t [s],U [V]\n0,3\n1,2\n2,1\n", out);
        std::fclose(out);
    });
    auto source = open(path, {});
    writer.join();
    ::unlink(path.c_str());
    ASSERT_TRUE(source.ok()) << source.error().text();
    Block block;
    ASSERT_TRUE((*source)->next(block).value());
    EXPECT_EQ(block.channels[0].value, (std::vector<double>{3, 2, 1}));
}

TEST(BoundedMemory, HandsOutSmallBlocksWhereThereAreManyColumns) {
    std::string text = "time_s";
    for (int c = 0; c < 10'000; ++c) text += ",ch" + std::to_string(c) + " [V]";
    text += '\n';
    for (int row = 0; row < 100; ++row) {
        text += std::to_string(row);
        for (int c = 0; c < 10'000; ++c) text += ",1.5";
        text += '\n';
    }
    ReadOptions options;
    options.specimen = "7";
    auto source = open_bytes(std::move(text), "wide.csv", options);
    ASSERT_TRUE(source.ok()) << source.error().text();
    EXPECT_EQ((*source)->description().channels.size(), 10'000u);
    Block block;
    std::size_t rows = 0;
    for (;;) {
        const Result<bool> more = (*source)->next(block);
        ASSERT_TRUE(more.ok()) << more.error().text();
        if (!*more) break;
        EXPECT_LE(block.channels[5].value.capacity() * block.channels.size(), 100'000u);
        rows += block.channels[5].value.size();
    }
    EXPECT_EQ(rows, 100u);
}

}  // namespace ebbtide::recording
