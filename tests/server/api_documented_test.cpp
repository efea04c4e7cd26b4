// The router, openapi.json, docs/formats/page.md and what is answered say the same.

#include <gtest/gtest.h>

#include <regex>

#include "server/api.hpp"
#include "support/api_desk.hpp"
#include "support/documented_keys.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using nlohmann::json;

const json& openapi() {
    static const json document = json::parse(server::openapi_text());
    return document;
}

const json& schema(const std::string& name) {
    return openapi()["components"]["schemas"].at(name);
}

/// The schema that a reference or a one-of-reference-and-null points at; empty where there is none.
std::string pointed_at(const json& property) {
    if (property.contains("$ref")) return property["$ref"].get<std::string>().substr(21);
    if (property.contains("oneOf")) return pointed_at(property["oneOf"].at(0));
    return "";
}

bool is_of(const json& value, const std::string& type) {
    return type == "string"    ? value.is_string()
           : type == "number"  ? value.is_number()
           : type == "integer" ? value.is_number_integer()
           : type == "boolean" ? value.is_boolean()
           : type == "array"   ? value.is_array()
           : type == "object"  ? value.is_object()
                               : value.is_null();
}

/// Exactly the keys of the schema, each of its type, and so on inwards.
void expect_as_documented(const json& value, const std::string& name, const std::string& at) {
    const json& wanted = schema(name);
    ASSERT_TRUE(value.is_object()) << at;
    if (!wanted.contains("properties"))
        return;  // documented in another page, and held to it by that one's test
    EXPECT_EQ(keys_of(value), keys_of(wanted["properties"])) << at << " as " << name;
    for (const auto& [key, property] : wanted["properties"].items()) {
        if (!value.contains(key)) continue;
        const json& inner = value[key];
        const std::string place = at + "." + key;
        if (const std::string ref = pointed_at(property); !ref.empty()) {
            if (!inner.is_null() || !property.contains("oneOf")) expect_as_documented(inner, ref, place);
            continue;
        }
        if (!property.contains("type")) continue;
        bool right = false;
        if (property["type"].is_array())
            for (const json& type : property["type"]) right = right || is_of(inner, type);
        else
            right = is_of(inner, property["type"]);
        EXPECT_TRUE(right) << place << " is " << inner.dump().substr(0, 60) << ", not " << property["type"];
        if (const std::string ref = pointed_at(property.value("items", json::object())); !ref.empty())
            for (std::size_t i = 0; inner.is_array() && i < inner.size(); ++i)
                expect_as_documented(inner[i], ref, place + "[" + std::to_string(i) + "]");
    }
}

/// The schema of the good answer to a path; empty where that is a file.
std::string answer_of(const std::string& path, const std::string& method) {
    for (const auto& [status, answer] : openapi().at("paths").at(path).at(method).at("responses").items()) {
        if (status == "default") continue;
        const json& content = answer.at("content");
        return content.contains("application/json") ? pointed_at(content.at("application/json").at("schema"))
                                                    : "";
    }
    return "";
}

TEST(OpenApi, NamesEveryRouteAndNoOther) {
    std::set<std::string> routed, documented;
    for (const server::RouteName& route : server::routes()) routed.insert(route.method + " " + route.path);
    for (const auto& [path, methods] : openapi()["paths"].items())
        for (const auto& [method, about] : methods.items()) {
            documented.insert((method == "get" ? "GET " : "POST ") + path);
            // The names in braces are the parameters of the path.
            std::set<std::string> in_path, named;
            const std::regex brace("\\{([a-z]+)\\}");
            for (std::sregex_iterator it(path.begin(), path.end(), brace), end; it != end; ++it)
                in_path.insert((*it)[1]);
            for (const json& parameter : about.value("parameters", json::array()))
                if (parameter["in"] == "path") named.insert(parameter["name"]);
            EXPECT_EQ(in_path, named) << path;
        }
    EXPECT_EQ(routed, documented);
    EXPECT_EQ(openapi()["openapi"], "3.1.0");
}

TEST(OpenApi, PointsAtSchemasThatThereAre) {
    const std::string text(server::openapi_text());
    const std::regex reference("#/components/schemas/([A-Za-z]+)");
    std::set<std::string> used;
    for (std::sregex_iterator it(text.begin(), text.end(), reference), end; it != end; ++it)
        used.insert((*it)[1]);
    EXPECT_EQ(used, keys_of(openapi()["components"]["schemas"])) << "none missing, none idle";
}

TEST(PageDocument, ListsEveryPath) {
    const std::string page = bytes_of(EBBTIDE_SOURCE_DIR "/docs/formats/page.md");
    const std::regex brace("\\{([a-z]+)\\}");
    for (const server::RouteName& route : server::routes()) {
        std::string path;
        std::sregex_iterator it(route.path.begin(), route.path.end(), brace), end;
        std::size_t from = 0;
        for (; it != end; ++it) {
            std::string name = (*it)[1];
            for (char& c : name) c = static_cast<char>(std::toupper(c));
            path += route.path.substr(from, static_cast<std::size_t>(it->position()) - from) + name;
            from = static_cast<std::size_t>(it->position() + it->length());
        }
        path += route.path.substr(from);
        EXPECT_NE(page.find("`" + path + "`"), std::string::npos) << path;
    }
}

TEST(PageDocument, HasTheKeysOfTheSchemas) {
    for (const auto& [name, about] : openapi()["components"]["schemas"].items()) {
        if (!about.contains("x-section") || about["x-section"] == "## At the bench") continue;
        EXPECT_EQ(documented("page.md", about["x-section"]), keys_of(about["properties"])) << name;
    }
}

class ApiAnswers : public JudgedDesk {
  protected:
    void expect(const std::string& pattern, const std::string& path, const Query& query = {}) {
        const std::string name = answer_of(pattern, "get");
        ASSERT_NE(name, "") << pattern;
        expect_as_documented(got(path, query), name, path);
        asked_.insert(pattern);
    }
    std::set<std::string> asked_;
};

TEST_F(ApiAnswers, HoldExactlyTheDocumentedKeys) {
    expect("/api/today", "/api/today");
    for (const char* key : {"halyard-cloth", "film-insulator", "awning-live", "bench-faults"}) {
        const std::string order = std::string("/api/orders/") + key;
        expect("/api/orders/{key}", order);
        const auto runs = runs_of(key);
        if (runs.empty()) continue;
        expect("/api/orders/{key}/traces", order + "/traces");
        for (const std::size_t i : {std::size_t{0}, runs.size() - 1}) {
            const std::string run = order + "/runs/" + runs[i];
            expect("/api/orders/{key}/runs/{run}", run);
            expect("/api/orders/{key}/runs/{run}/trace", run + "/trace");
            expect("/api/orders/{key}/runs/{run}/fit", run + "/fit");
            expect("/api/orders/{key}/runs/{run}/pedigree", run + "/pedigree");
            good(post(run + "/notes", {{"who", "TO"}, {"text", "seen"}}), 201);
            expect("/api/orders/{key}/runs/{run}/notes", run + "/notes");
        }
    }
    expect("/api/orders", "/api/orders");
    expect("/api/methods", "/api/methods");
    expect("/api/methods/{id}", "/api/methods/mil-dtl-44031e-method");
    expect("/api/specifications", "/api/specifications");
    expect("/api/specifications/{id}", "/api/specifications/mil-dtl-44031e-specification");
    expect("/api/materials", "/api/materials");
    expect("/api/materials/trend", "/api/materials/trend", {{"by", "month"}});
    expect("/api/find", "/api/find");
    expect("/api/lots", "/api/lots", {{"orders", "halyard-cloth"}});
    expect("/api/compare", "/api/compare", {{"orders", "halyard-cloth"}, {"by", "face"}});
    // Every path that answers JSON of a schema was asked, but for the bench's.
    for (const server::RouteName& route : server::routes())
        if (route.method == "GET" && !answer_of(route.path, "get").empty() && route.path != "/api/bench") {
            EXPECT_TRUE(asked_.contains(route.path)) << route.path;
        }
}

using ApiAnswersAlone = ApiDesk;

TEST_F(ApiAnswersAlone, ToWhatIsSentHoldThemToo) {
    expect_as_documented(good(post("/api/orders", an_intake()), 201), "Made", "made");
    const json known = {{"id", "dry"}, {"temperature_C", 23}};
    expect_as_documented(good(post("/api/orders/deck-canvas/conditions", known)), "Conditions", "conditions");
    expect_as_documented(good(post_bytes("/api/imports", bytes_of(path("halyard-cloth/recordings/W1.csv")),
                                         {{"name", "W1.csv"}, {"order", "awning-live"}})),
                         "Import", "import");
    expect_as_documented(good(post("/api/orders/film-insulator/rejudge", {{"levels", "1/e"}})), "Rejudged",
                         "rejudged");
    expect_as_documented(bad(get("/api/orders/none"), 404), "Error", "error");
}

}  // namespace
