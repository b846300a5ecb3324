// Who may ask, and how wrong requests are answered.
#include <arpa/inet.h>
#include <fmt/format.h>
#include <sys/socket.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>

#include "workshop.h"

namespace fuelwright::tests {
namespace {

class Gate : public Workshop {
 protected:
  // Bytes as they are, for what no client sends.
  std::string speak(const std::string& bytes) const {
    const int s = socket(AF_INET, SOCK_STREAM, 0);
    sockaddr_in to{};
    to.sin_family = AF_INET;
    to.sin_port = htons(static_cast<std::uint16_t>(program_->port()));
    to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    std::string out;
    if (connect(s, reinterpret_cast<sockaddr*>(&to), sizeof to) == 0) {
      (void)!write(s, bytes.data(), bytes.size());
      shutdown(s, SHUT_WR);  // nothing waits for more
      char buffer[4096];
      for (ssize_t n = 0; (n = read(s, buffer, sizeof buffer)) > 0;)
        out.append(buffer, static_cast<std::size_t>(n));
    }
    close(s);
    return out;
  }
  std::string host() const { return fmt::format("127.0.0.1:{}", program_->port()); }
};

TEST_F(Gate, OnlyTheOwnHostIsAnswered) {
  for (const std::string host :
       {"evil.example", "127.0.0.1", "127.0.0.1:1", "localhost.evil.example", ""}) {
    const Reply r = raw("GET", "/api/v1/session", {{"Host", host}});
    EXPECT_EQ(r.status, 403) << host;
    EXPECT_EQ(r.code(), "host") << r.text;
    EXPECT_EQ(r.text.find(token_), std::string::npos);
  }
  const Reply ours =
      raw("GET", "/api/v1/session", {{"Host", fmt::format("localhost:{}", program_->port())}});
  EXPECT_EQ(ours.status, 200) << ours.text;
}

TEST_F(Gate, APageOfAnotherPlaceIsRefused) {
  for (const std::string origin :
       {"http://evil.example", "null", "https://127.0.0.1", "http://127.0.0.1:1"}) {
    const Reply r = raw("GET", "/api/v1/jobs", {{"Origin", origin}});
    EXPECT_EQ(r.status, 403) << origin;
    EXPECT_EQ(r.code(), "origin");
  }
  EXPECT_EQ(raw("GET", "/api/v1/jobs", {{"Sec-Fetch-Site", "cross-site"}}).status, 403);
  EXPECT_EQ(raw("GET", "/api/v1/jobs", {{"Origin", "http://" + host()}}).status, 200);
  // Nobody else's page is told that it may read.
  EXPECT_EQ(raw("GET", "/api/v1/jobs", {}).headers.count("Access-Control-Allow-Origin"), 0U);
}

TEST_F(Gate, NothingChangesWithoutTheToken) {
  const std::string body =
      Json{{"job", "v8"}, {"answers", {"350 cu in", "8", "222 deg", "30 lb/h at 43.5 psi", "E10"}}}
          .dump();
  for (const auto& headers :
       {httplib::Headers{}, httplib::Headers{{"X-Fuelwright-Token", std::string(32, '0')}}}) {
    const Reply r = raw("POST", "/api/v1/jobs", headers, body);
    EXPECT_EQ(r.status, 403) << r.text;
    EXPECT_EQ(r.code(), "token");
  }
  EXPECT_FALSE(std::filesystem::exists(folder_ + "/v8.fw"));
  EXPECT_EQ(raw("POST", "/api/v1/jobs", with_token(), body).status, 201);
}

TEST_F(Gate, NothingOutsideTheFolderIsReached) {
  std::filesystem::create_directory(folder_ + "/inside");
  program_.reset();
  std::ofstream(folder_ + "/secret.fw") << "not a job";
  std::filesystem::create_symlink("../secret.fw", folder_ + "/inside/link.fw");
  const std::string outer = folder_;
  folder_ = outer + "/inside";
  start();
  for (const std::string job :
       {"..%2Fsecret", "%2e%2e", "../secret", "..%5Csecret", "link", ".hidden", "-x", "a%00b",
        "a%2Fb", "%FF", "%C0%AE%C0%AE", "x%", "x%4"}) {
    const Reply r = raw("GET", "/api/v1/jobs/" + job, {});
    EXPECT_GE(r.status, 400) << job << r.text;
    EXPECT_LT(r.status, 500) << job << r.text;
    EXPECT_FALSE(r.code().empty()) << job << r.text;
  }
  const Reply made =
      send("POST", "/api/v1/jobs",
           {{"job", "../out"},
            {"answers", {"350 cu in", "8", "222 deg", "30 lb/h at 43.5 psi", "E10"}}});
  EXPECT_EQ(made.status, 400) << made.text;
  EXPECT_FALSE(std::filesystem::exists(outer + "/out.fw"));
  EXPECT_EQ(raw("GET", "/..%2Fsecret.fw", {}).status, 404);
  EXPECT_EQ(raw("GET", "/../secret.fw", {}).status, 404);
  EXPECT_EQ(get("/api/v1/jobs").json().at("jobs").size(), 0U);  // a link is no job
  folder_ = outer;
}

TEST_F(Gate, EveryWrongRequestHasOneClearLine) {
  new_job();
  const Reply no_route = raw("GET", "/api/v1/nowhere", {});
  EXPECT_EQ(no_route.status, 404);
  EXPECT_EQ(no_route.code(), "not_found");
  const Reply method = raw("DELETE", "/api/v1/jobs/v8", with_token());
  EXPECT_EQ(method.status, 405);
  EXPECT_EQ(method.code(), "method");
  EXPECT_EQ(method.headers.count("Allow"), 1U);
  const Reply media =
      raw("POST", "/api/v1/jobs", with_token(), "a=1", "application/x-www-form-urlencoded");
  EXPECT_EQ(media.status, 415) << media.text;
  for (const std::string body :
       {"{", "[]", "\"x\"", "{\"job\": 3}", "{\"jib\": \"x\"}", "nul", "{\"job\":\"x\"}"}) {
    const Reply r = raw("POST", "/api/v1/jobs", with_token(), body);
    EXPECT_EQ(r.status, 400) << body << r.text;
    EXPECT_EQ(r.code(), "usage") << r.text;
  }
  EXPECT_EQ(raw("POST", "/api/v1/jobs", with_token(), std::string(100'000, '[')).status, 400);
  EXPECT_EQ(
      raw("POST", "/api/v1/jobs", with_token(), "{\"job\":\"" + std::string(17 << 20, 'x') + "\"}")
          .status,
      413);
  EXPECT_EQ(get("/api/v1/jobs/none").code(), "not_found");
  EXPECT_EQ(get("/api/v1/jobs/v8/compare?from=0&to=x").code(), "usage");
  EXPECT_EQ(get("/api/v1/jobs/v8/compare?from=0&to=7").code(), "not_found");
  EXPECT_EQ(get("/api/v1/jobs/v8/journal?befor=3").code(), "usage");
  EXPECT_EQ(get("/api/v1/long-work/99").code(), "not_found");
  EXPECT_EQ(get("/api/v1/long-work/x").code(), "usage");
  EXPECT_EQ(get("/api/v1/jobs").json().at("jobs").size(), 1U);
}

TEST_F(Gate, WhatIsNoHttpDoesNotEndTheServer) {
  const std::string ours = "Host: " + host() + "\r\n";
  const std::vector<std::string> all{
      "\x16\x03\x01\x02",
      "GET\r\n\r\n",
      "GET / HTTP/9.9\r\n\r\n",
      "GET /" + std::string(20'000, 'a') + " HTTP/1.1\r\n\r\n",
      "GET /api/v1/jobs/" + std::string(7'000, 'a') + " HTTP/1.1\r\n" + ours + "\r\n",
      "GET http://evil.example/api/v1/session HTTP/1.1\r\nHost: evil.example\r\n\r\n",
      "POST /api/v1/jobs HTTP/1.1\r\n" + ours + "Content-Length: 18446744073709551615\r\n\r\n",
      "TRACE / HTTP/1.1\r\n" + ours + "\r\n"};
  for (const std::string& bytes : all) {
    EXPECT_EQ(speak(bytes + "\r\n\r\n").find(token_), std::string::npos);
    EXPECT_EQ(get("/api/v1/session").status, 200) << bytes.substr(0, 60);
  }
}

TEST_F(Gate, PagesComeWithStrictHeadersAndARememberedTag) {
  const Reply page = raw("GET", "/", {});
  EXPECT_EQ(page.status, 200);
  const auto policy = page.headers.find("Content-Security-Policy");
  ASSERT_NE(policy, page.headers.end());
  EXPECT_EQ(policy->second.find("unsafe"), std::string::npos);
  EXPECT_EQ(policy->second.find("http"), std::string::npos);
  const auto tag = page.headers.find("ETag");
  ASSERT_NE(tag, page.headers.end());
  EXPECT_EQ(raw("GET", "/", {{"If-None-Match", tag->second}}).status, 304);
  EXPECT_EQ(raw("GET", "/api/v1/session", {}).headers.find("Cache-Control")->second, "no-store");
  EXPECT_EQ(raw("GET", "/none.js", {}).status, 404);
}

}  // namespace
}  // namespace fuelwright::tests
