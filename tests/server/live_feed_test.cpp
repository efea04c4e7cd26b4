// The store of what happened live: nothing but frames is ever left out or thinned, whoever reads how slowly.

#include "server/live_feed.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <sstream>
#include <string>
#include <thread>
#include <vector>

namespace ebbtide::server {
namespace {

using work::Frame;

constexpr std::size_t every = 1'000'000, much = 1u << 30;

Frame frame_at(int tenth) {
    return {0.1 * tenth, 0.1 * tenth + 0.09, {{10, -1.0 * tenth, 2.0 * tenth, 0.5 * tenth}}};
}

struct Line {
    std::uint64_t id;
    nlohmann::json data;
};
std::vector<Line> lines_of(const std::string& text) {
    std::vector<Line> out;
    std::istringstream in(text);
    for (std::string id, data, blank;
         std::getline(in, id) && std::getline(in, data) && std::getline(in, blank);) {
        EXPECT_TRUE(id.starts_with("id: ") && data.starts_with("data: ") && blank.empty()) << id;
        out.push_back({std::stoull(id.substr(4)), nlohmann::json::parse(data.substr(6))});
    }
    return out;
}

/// Everything a viewer gets that asks with these sizes until there is no more.
std::vector<Line> read_all(const LiveFeed& feed, std::uint64_t after, std::size_t frames = every,
                           std::size_t bytes = much) {
    std::vector<Line> out;
    for (std::uint64_t at = after;;) {
        const FeedBatch batch = feed.after(at, frames, bytes);
        if (batch.text.empty()) return out;
        EXPECT_GT(batch.last, at);
        at = batch.last;
        for (Line& line : lines_of(batch.text)) out.push_back(std::move(line));
    }
}

TEST(LiveFeed, NumbersWhatHappensAndHandsItOnFromAnyNumber) {
    LiveFeed feed;
    EXPECT_EQ(feed.last(), 0u);
    EXPECT_TRUE(feed.after(0, every, much).text.empty());
    EXPECT_EQ(feed.publish(work::Prompt{"one"}), 1u);
    EXPECT_EQ(feed.publish(frame_at(1)), 2u);
    EXPECT_EQ(feed.publish(nlohmann::json{{"event", "own"}}), 3u);
    const auto lines = read_all(feed, 1);
    ASSERT_EQ(lines.size(), 2u);
    EXPECT_EQ(lines[0].id, 2u);
    EXPECT_EQ(lines[0].data["event"], "frame");
    EXPECT_EQ(lines[1].data["event"], "own");
    EXPECT_TRUE(feed.after(3, every, much).text.empty());
    EXPECT_EQ(lines_of(feed.after(99, every, much).text).size(), 3u) << "a number of another launch";
}

TEST(LiveFeed, TellsThatThereIsNews) {
    LiveFeed feed;
    int news = 0;
    feed.on_news([&] { ++news; });
    feed.publish(work::Prompt{"one"});
    feed.publish(frame_at(1));
    feed.on_news({});
    feed.publish(frame_at(2));
    EXPECT_EQ(news, 2);
}

/// Of frames merged to any coarseness, lowest, highest and number of samples are those of all.
void expect_whole(const std::vector<Line>& lines, int frames) {
    double lowest = 0, highest = 0, sum = 0;
    std::uint64_t samples = 0;
    for (const Line& line : lines) {
        if (line.data["event"] != "frame") continue;
        const auto& channel = line.data["channels"][0];
        const auto here = channel["samples"].get<std::uint64_t>();
        samples += here;
        sum += channel["mean"].get<double>() * static_cast<double>(here);
        lowest = std::min(lowest, channel["lowest"].get<double>());
        highest = std::max(highest, channel["highest"].get<double>());
    }
    EXPECT_EQ(samples, 10u * static_cast<unsigned>(frames));
    EXPECT_EQ(lowest, -1.0 * (frames - 1));
    EXPECT_EQ(highest, 2.0 * (frames - 1));
    // Sums of some thousand doubles agree to rounding.
    EXPECT_NEAR(sum / static_cast<double>(samples), 0.5 * 0.5 * (frames - 1), 1e-9 * frames);
}

TEST(LiveFeed, GivesASlowViewerCoarserFramesAndEveryOtherEvent) {
    LiveFeed feed;
    constexpr int frames = 1000;
    for (int i = 0; i < frames; ++i) {
        feed.publish(frame_at(i));
        if (i % 100 == 50) feed.publish(work::Prompt{std::to_string(i)});
    }
    const auto fine = read_all(feed, 0), coarse = read_all(feed, 0, 16);
    expect_whole(fine, frames);
    expect_whole(coarse, frames);
    EXPECT_EQ(fine.size(), 1010u);
    EXPECT_LE(coarse.size(), 16u + 10u);
    EXPECT_EQ(std::ranges::count_if(coarse, [](const Line& l) { return l.data["event"] == "prompt"; }), 10);
    for (std::size_t i = 1; i < coarse.size(); ++i) EXPECT_LE(coarse[i - 1].id, coarse[i].id);
}

TEST(LiveFeed, KeepsALongRecordOfFramesInBoundedMemory) {
    LiveFeed feed({100'000, 64u << 20, 256});
    constexpr int frames = 20'000;  // half an hour
    for (int i = 0; i < frames; ++i) feed.publish(frame_at(i));
    const auto lines = read_all(feed, 0);
    EXPECT_LE(lines.size(), 256u);
    EXPECT_GE(lines.size(), 128u);
    expect_whole(lines, frames);
    EXPECT_EQ(lines.back().data["to_s"], frame_at(frames - 1).to_s);
    EXPECT_EQ(lines.back().data["channels"][0]["samples"], 10) << "the newest is as it came";
    EXPECT_GT(lines.front().data["channels"][0]["samples"], 500) << "the oldest is the coarsest";
}

TEST(LiveFeed, MergesNoFramesOfTwoSources) {
    LiveFeed feed({100'000, 64u << 20, 64});
    for (int session = 0; session < 500; ++session) {
        feed.publish(work::SourceOpened{std::to_string(session), "", "", "", {}});
        for (int i = 0; i < 3; ++i) feed.publish(frame_at(i));
    }
    std::size_t opened = 0, frames = 0;
    for (const Line& line : read_all(feed, 0, 1)) {
        if (line.data["event"] != "frame") {
            ++opened;
            continue;
        }
        ++frames;
        EXPECT_LE(line.data["channels"][0]["samples"], 30);
    }
    EXPECT_EQ(opened, 500u);
    EXPECT_LE(frames, 64u);
    EXPECT_GE(frames, 16u);
}

TEST(LiveFeed, SaysWhatIsNoLongerKept) {
    LiveFeed feed({10, 64u << 20, 64});
    for (int i = 1; i <= 25; ++i) feed.publish(work::Prompt{std::to_string(i)});
    const auto lines = read_all(feed, 3);
    ASSERT_EQ(lines.size(), 11u);
    EXPECT_EQ(lines[0].id, 15u);
    EXPECT_NE(lines[0].data["text"].get<std::string>().find("no longer kept"), std::string::npos);
    EXPECT_EQ(lines[1].id, 16u);
    EXPECT_EQ(read_all(feed, 15).size(), 10u) << "who has read them misses nothing";
    LiveFeed narrow({100, 200, 64});
    for (int i = 1; i <= 25; ++i) narrow.publish(work::Prompt{"words"});
    EXPECT_LE(read_all(narrow, 20).size(), 5u);
}

TEST(LiveFeed, GivesEveryEventOnceHoweverItIsRead) {
    rc::check([](std::uint32_t seed) {
        std::mt19937 random(seed);
        // From `least` to below `beyond`.
        const auto draw = [&random](std::size_t least, std::size_t beyond) {
            return least + random() % (beyond - least);
        };
        LiveFeed feed({100'000, 64u << 20, draw(8, 64)});
        const int count = static_cast<int>(draw(1, 300));
        std::vector<std::string> told, heard;
        std::vector<bool> seen(static_cast<std::size_t>(count), true);
        std::uint64_t at = 0;
        for (int i = 0; i < count; ++i) {
            if (draw(0, 3) == 0) {
                told.push_back(std::to_string(i));
                feed.publish(work::Prompt{told.back()});
            } else {
                feed.publish(frame_at(i));
                seen[static_cast<std::size_t>(i)] = false;
            }
            if (draw(0, 8) != 0 && i + 1 < count) continue;
            // Now and then, and at the end, the viewer reads, in batches of any size; sometimes it had been
            // cut off within one and asks again from the last number that it saw.
            for (;;) {
                const FeedBatch batch = feed.after(at, draw(1, 20), draw(1, 500));
                if (batch.text.empty()) break;
                const auto lines = lines_of(batch.text);
                const bool cut = draw(0, 4) == 0;
                const std::size_t arrived = cut ? draw(0, lines.size() + 1) : lines.size();
                RC_ASSERT(lines[0].id > at);
                for (std::size_t k = 0; k < arrived; ++k) {
                    RC_ASSERT(lines[k].id >= at);
                    at = lines[k].id;
                    if (lines[k].data["event"] == "prompt") {
                        heard.push_back(lines[k].data["text"].get<std::string>());
                        continue;
                    }
                    const double from_s = lines[k].data["from_s"], to_s = lines[k].data["to_s"];
                    const long last = std::lround(10 * to_s - 0.9);
                    for (long f = std::lround(10 * from_s); f <= last; ++f)
                        seen[static_cast<std::size_t>(f)] = true;
                }
                if (!cut) at = batch.last;
            }
        }
        RC_ASSERT(std::ranges::count(seen, false) == 0);
        RC_ASSERT(heard == told);
    });
}

TEST(LiveFeed, TakesFromOneThreadWhileOthersRead) {
    LiveFeed feed({100'000, 64u << 20, 256});
    constexpr int count = 5'000;
    std::thread teller([&] {
        for (int i = 0; i < count; ++i) {
            if (i % 10 == 0) feed.publish(work::Prompt{std::to_string(i)});
            feed.publish(frame_at(i));
        }
    });
    std::vector<std::thread> viewers;
    std::vector<std::size_t> heard(3);
    for (std::size_t v = 0; v < heard.size(); ++v)
        viewers.emplace_back([&feed, &heard, v] {
            for (std::uint64_t at = 0; at < count + count / 10;) {
                const FeedBatch batch = feed.after(at, 4u << v, 4096);
                at = batch.last;
                for (std::size_t from = 0; (from = batch.text.find("prompt", from)) != std::string::npos;
                     ++from)
                    ++heard[v];
            }
        });
    teller.join();
    for (std::thread& viewer : viewers) viewer.join();
    for (const std::size_t one : heard) EXPECT_EQ(one, count / 10u);
}

TEST(Frame, MergesAChannelThatWasSilent) {
    Frame coarse{1, 2, {{0, 0, 0, 0}, {4, -1, 3, 1}}};
    merge_into(coarse, {2, 3, {{2, 5, 7, 6}, {0, 0, 0, 0}}});
    EXPECT_EQ(coarse.from_s, 1);
    EXPECT_EQ(coarse.to_s, 3);
    EXPECT_EQ(coarse.channels[0].samples, 2u);
    EXPECT_EQ(coarse.channels[0].lowest, 5);
    EXPECT_EQ(coarse.channels[1].samples, 4u);
    EXPECT_EQ(coarse.channels[1].mean, 1);
}

}  // namespace
}  // namespace ebbtide::server
