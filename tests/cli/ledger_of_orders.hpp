#pragma once
// A ledger and a copy of the halyard order, for the program to work on.

#include <algorithm>
#include <string>
#include <vector>

#include "support/program.hpp"

namespace ebbtide::testing_support {

inline const std::string halyard_order = EBBTIDE_SOURCE_DIR "/examples/halyard-cloth";

class LedgerOfOrders : public ::testing::Test {
  protected:
    void SetUp() override {
        std::filesystem::copy(halyard_order, order(), std::filesystem::copy_options::recursive);
        ASSERT_EQ(ledger({"init"}).exit, 0);
    }
    [[nodiscard]] std::string order() const { return folder_ / "order"; }
    [[nodiscard]] std::string path() const { return folder_ / "lab.ledger"; }
    [[nodiscard]] Ran ledger(std::vector<std::string> words, const std::string& in = "") const {
        Call call;
        call.arguments = {"ledger"};
        call.arguments.insert(call.arguments.end(), words.begin(), words.end());
        call.more = {{"EBBTIDE_LEDGER", in.empty() ? path() : in}};
        return run(call);
    }
    [[nodiscard]] nlohmann::json found(std::vector<std::string> words = {},
                                       const std::string& in = "") const {
        words.insert(words.begin(), {"find", "--json"});
        return ledger(words, in).json()["orders"];
    }
    void change(const std::string& from, const std::string& to) const {
        std::string text = bytes_of(order() + "/order.toml");
        const std::size_t at = text.find(from);
        ASSERT_NE(at, std::string::npos) << from;
        write_bytes(order() + "/order.toml", text.replace(at, from.size(), to));
    }
    /// The order with its first two recordings, four runs, which are soon judged.
    void shorten() const {
        std::string text = bytes_of(order() + "/order.toml");
        std::size_t end = text.find("[[recording]]");
        for (int kept = 0; kept < 2; ++kept) end = text.find("[[recording]]", end + 1);
        write_bytes(order() + "/order.toml", text.substr(0, end));
    }
    static std::string head_in(const Ran& ran) {
        const std::size_t at = ran.out.find("head ");
        EXPECT_NE(at, std::string::npos) << ran.out << ran.err;
        return at == std::string::npos ? "" : ran.out.substr(at + 5, 64);
    }
    TemporaryFolder folder_;
};

}  // namespace ebbtide::testing_support
