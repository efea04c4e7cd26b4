// docs/formats/ explains every key that the readers know. The readers are asked for their keys: a table with
// a key that resembles none answers with the list of those it knows.

#include <gtest/gtest.h>

#include <fstream>
#include <set>
#include <sstream>

#include "paperwork/documents.hpp"

namespace ebbtide::paperwork {
namespace {

constexpr const char* stranger = "zzzzzzzzzzzzzzzzzzzzzzzz";

std::string page(const std::string& name) {
    std::ifstream in(EBBTIDE_SOURCE_DIR "/docs/formats/" + name + ".md");
    std::ostringstream out;
    out << in.rdbuf();
    return out.str();
}

void add_known(const std::string& message, std::set<std::string>& keys) {
    const std::string lead = "Known here: ";
    for (std::size_t at = message.find(lead); at != std::string::npos; at = message.find(lead, at + 1)) {
        std::istringstream list(message.substr(at + lead.size(), message.find('\n', at) - at - lead.size()));
        for (std::string key; std::getline(list, key, ',');)
            keys.insert(key.substr(key.find_first_not_of(' ')));
    }
}

/// Every key that a reader knows, found by putting a stranger into each table of a valid document.
template <class Parse>
std::set<std::string> known_keys(const std::string& valid, Parse parse) {
    std::set<std::string> keys;
    const std::string strange = std::string(stranger) + " = 1";
    const auto ask = [&](std::size_t at, const std::string& text) {
        const auto result = parse(std::string(valid).insert(at, text), "file");
        if (!result.ok()) add_known(result.error().text(), keys);
    };
    ask(0, strange + '\n');
    for (std::size_t at = valid.find("]\n"); at != std::string::npos; at = valid.find("]\n", at + 1))
        ask(at + 2, strange + '\n');
    for (std::size_t at = valid.find("{ "); at != std::string::npos; at = valid.find("{ ", at + 1))
        ask(at + 2, strange + ", ");
    return keys;
}

void expect_explained(const std::string& name, const std::set<std::string>& keys, std::size_t at_least) {
    const std::string text = page(name);
    EXPECT_GE(keys.size(), at_least);
    for (const std::string& key : keys) {
        const bool explained = text.find('`' + key + '`') != std::string::npos ||
                               text.find('[' + key + ']') != std::string::npos ||
                               text.find("{ " + key) != std::string::npos ||
                               text.find(key + " }") != std::string::npos;
        EXPECT_TRUE(explained) << "docs/formats/" << name << ".md does not explain " << key;
    }
}

/// The TOML between ``` fences.
std::string example_of(const std::string& name) {
    const std::string text = page(name);
    const std::string fence = "```toml\n";
    const std::size_t from = text.find(fence);
    if (from == std::string::npos) return "";
    return text.substr(from + fence.size(), text.find("```", from + 3) - from - fence.size());
}

/// Of the example order, none of whose runs is listed.
Result<std::vector<HeardRun>> parse_heard(std::string_view toml, const std::string& name) {
    std::ifstream in(EBBTIDE_SOURCE_DIR "/examples/halyard-cloth/order.toml");
    std::ostringstream text;
    text << in.rdbuf();
    plan::Order order = parse_order(text.str(), "order.toml").value();
    order.recordings.clear();
    return parse_live(toml, name, order);
}

}  // namespace

TEST(FormatDocuments, ExplainEveryKey) {
    expect_explained("method", known_keys(documents::method, parse_method), 35);
    const std::string supplied = documents::changed(
        documents::specification,
        "level = \"1/e\"\nstatistic = \"each_run\"\ncomparison = \"<\"\nlimit_s = 0.5",
        "quantity = \"q\"\ncomparison = \">\"\nlimit = 0.2\n\n[[demand]]\nid = \"d2\"\n[[demand.any_of]]\n"
        "id = \"r3\"\nclause = \"c\"\nlevel = 0.5\nstatistic = \"each_run\"\ncomparison = \"<\"\n"
        "classes = [{ name = \"A\", limit_s = 2 }]");
    EXPECT_TRUE(parse_specification(supplied, "file").ok());
    expect_explained("specification", known_keys(supplied, parse_specification), 18);
    const std::string bench = documents::bench + "\n[channels]\ntime = \"t\"\n";
    expect_explained("bench", known_keys(bench, parse_bench), 30);
    const std::string driven = bench +
                               "\n[drive]\nnear_zero_V = 50\n\n[check]\nvalid_h = 24\n\n[[setup]]\ntext = "
                               "\"Earth first.\"\n";
    expect_explained("bench", known_keys(driven, parse_bench), 60);
    expect_explained("simulation", known_keys(documents::simulation, parse_simulation), 70);
    const std::string order =
        documents::changed(documents::order, "[[item]]",
                           "[[supplied]]\nquantity = \"q\"\nvalue = 1\nu = 0\nsource = "
                           "\"s\"\n\n[sampling]\nby = \"x\"\n\n[remarks]\nopinions = [\"x\"]\n\n[[item]]");
    const std::string folder = order +
                               "\n[[folder]]\nfolder = \"r\"\nnames = \"{specimen}-{polarity}.csv\"\nface = "
                               "\"f\"\nconditions = \"dry\"\n";
    expect_explained("order", known_keys(folder, parse_order), 47);
    const std::string guarded = documents::changed(
        order, "[dates]",
        "[[decision_rule.history]]\nrequirement = \"r\"\nmean_s = 1\nstandard_deviation_s = "
        "0.1\nsource = \"x\"\n\n[dates]");
    expect_explained("order", known_keys(guarded, parse_order), 51);
    // [amendment] belongs to later revisions only.
    const std::string amended =
        documents::changed(documents::changed(documents::order, "revision = 1", "revision = 2"), "[[item]]",
                           "[amendment]\nreason = \"x\"\n\n[[item]]");
    expect_explained("order", known_keys(amended, parse_order), 50);
    expect_explained("live", known_keys(example_of("live"), parse_heard), 17);
}

TEST(FormatDocuments, TheirExamplesAreTaken) {
    const auto method = parse_method(example_of("method"), "method.md");
    EXPECT_TRUE(method.ok()) << method.error().text();
    const auto specification = parse_specification(example_of("specification"), "specification.md");
    EXPECT_TRUE(specification.ok()) << specification.error().text();
    const auto live = parse_heard(example_of("live"), "live.md");
    EXPECT_TRUE(live.ok()) << live.error().text();
    const auto simulation = parse_simulation(example_of("simulation"), "simulation.md");
    EXPECT_TRUE(simulation.ok()) << simulation.error().text();
}

TEST(FormatDocuments, ExplainEveryFault) {
    for (std::size_t i = 0; i < plan::fault_count; ++i) {
        const plan::FaultFacts& facts = plan::facts(static_cast<plan::FaultKind>(i));
        EXPECT_EQ(facts.kind, static_cast<plan::FaultKind>(i));
        EXPECT_NE(page("simulation").find("`" + std::string(facts.name) + "`"), std::string::npos)
            << facts.name;
    }
}

}  // namespace ebbtide::paperwork
