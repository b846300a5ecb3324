// Kills, restarts, a second server, two tabs: nothing is lost.
#include <arpa/inet.h>
#include <fmt/format.h>
#include <sys/socket.h>
#include <unistd.h>

#include <csignal>
#include <filesystem>
#include <map>
#include <thread>

#include "workshop.h"

namespace fuelwright::tests {
namespace {

class Life : public Workshop {
 protected:
  std::size_t files_left() const {
    std::size_t n = 0;
    std::error_code none;
    for (const auto& f :
         std::filesystem::directory_iterator(folder_ + "/.fuelwright/uploads", none)) {
      n += f.is_regular_file() ? 1 : 0;
    }
    return n;
  }
};

TEST_F(Life, ASecondServerOnThePortSaysSoInOneLine) {
  Program second(folder_, program_->port());
  EXPECT_EQ(second.port(), 0);
  const std::string said = second.said();
  EXPECT_EQ(second.end(), 6) << said;  // conflict, docs/exit_codes.md
  EXPECT_NE(said.find("taken"), std::string::npos) << said;
  EXPECT_EQ(std::count(said.begin(), said.end(), '\n'), 1) << said;
  EXPECT_EQ(get("/api/v1/session").status, 200);
  const Program nowhere(folder_ + "/none");
  EXPECT_EQ(nowhere.port(), 0);
  EXPECT_NE(nowhere.said().find("none"), std::string::npos) << nowhere.said();
}

TEST_F(Life, AKillInTheMiddleOfAnUploadLosesNoMoreThanIt) {
  new_job();
  const Reply kept = send_bytes("/api/v1/jobs/v8/uploads?name=kept.csv", drive(30));
  ASSERT_EQ(kept.status, 201) << kept.text;
  // Half of a body, then the end of the program.
  const int s = socket(AF_INET, SOCK_STREAM, 0);
  sockaddr_in to{};
  to.sin_family = AF_INET;
  to.sin_port = htons(static_cast<std::uint16_t>(program_->port()));
  to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  ASSERT_EQ(connect(s, reinterpret_cast<sockaddr*>(&to), sizeof to), 0);
  const std::string head = fmt::format(
      "POST /api/v1/jobs/v8/uploads?name=half.csv HTTP/1.1\r\nHost: "
      "127.0.0.1:{}\r\nX-Fuelwright-Token: {}\r\n"
      "Content-Type: application/octet-stream\r\nContent-Length: 1000000\r\n\r\n",
      program_->port(), token_);
  const std::string half = head + std::string(500'000, 'x');
  ASSERT_EQ(write(s, half.data(), half.size()), static_cast<ssize_t>(half.size()));
  for (int i = 0; i < 500 && files_left() < 3; ++i)
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
  EXPECT_EQ(files_left(), 3U);  // two of the one that is kept, one that is coming
  kill_hard();
  close(s);
  const std::string old = token_;
  start();
  EXPECT_NE(token_, old);
  EXPECT_EQ(files_left(), 2U);
  const Json uploads = get("/api/v1/jobs/v8/uploads").json().at("uploads");
  ASSERT_EQ(uploads.size(), 1U);
  EXPECT_EQ(uploads[0].at("name"), "kept.csv");
  EXPECT_EQ(work("/api/v1/jobs/v8/add", {{"upload", uploads[0].at("upload")}}).at("id"), 1);
  // The page of before is told to ask again.
  const Reply stale = raw("POST", "/api/v1/jobs/v8/estimate", {{"X-Fuelwright-Token", old}}, "{}");
  EXPECT_EQ(stale.code(), "token");
}

TEST_F(Life, AKillInTheMiddleOfAnEstimateLeavesTheJobAsItWas) {
  new_job_with_table();
  add_drive();
  const Json before = get("/api/v1/jobs/v8").json();
  ASSERT_EQ(send("POST", "/api/v1/jobs/v8/estimate", Json::object()).status, 202);
  std::this_thread::sleep_for(std::chrono::milliseconds(30));
  kill_hard();
  start();
  const Json after = get("/api/v1/jobs/v8").json();
  EXPECT_EQ(after.at("recordings"), before.at("recordings"));
  EXPECT_EQ(after.at("revisions"), before.at("revisions"));
  // Either nothing or the whole of it was written.
  const auto more = after.at("head").get<int>() - before.at("head").get<int>();
  EXPECT_GE(more, 0);
  EXPECT_LE(more, 1);
  EXPECT_TRUE(work("/api/v1/jobs/v8/estimate").contains("sentence"));
}

TEST_F(Life, AskedToEndItEndsWithWorkAndListenersThere) {
  new_job();
  std::thread listener([this] {
    auto c = client();
    c.Get("/api/v1/events", [](const char*, std::size_t) { return true; });
  });
  ASSERT_EQ(send("POST", "/api/v1/jobs/v8/predict", {{"members", 512}}).status, 202);
  program_->signal(SIGTERM);
  EXPECT_EQ(program_->end(), 0);
  listener.join();
  start();
  EXPECT_EQ(get("/api/v1/jobs/v8").json().at("revisions").size(), 1U);
}

TEST_F(Life, ManyAtOnceOnOneJobLoseNothing) {
  new_job_with_table();
  const double was = get("/api/v1/jobs/v8/chart?table=ve").json().at("in_force")[0];
  constexpr int kTabs = 8;
  std::vector<int> status(kTabs);
  std::vector<std::thread> tabs;
  for (int i = 0; i < kTabs; ++i) {
    tabs.emplace_back([&, i] {
      const Json body{{"table", "ve"},
                      {"seen", 0},
                      {"why", fmt::format("tab {}", i)},
                      {"nodes", {{0, 0, was * (1 + 0.01 * (i + 1))}}}};
      status[static_cast<std::size_t>(i)] =
          raw("POST", "/api/v1/jobs/v8/amend", with_token(), body.dump()).status;
    });
  }
  for (auto& t : tabs) t.join();
  // One of those who looked at revision 0 was first; the others are told.
  EXPECT_EQ(std::count(status.begin(), status.end(), 200), 1);
  EXPECT_EQ(std::count(status.begin(), status.end(), 409), kTabs - 1);
  EXPECT_EQ(get("/api/v1/jobs/v8/revisions").json().at("revisions").size(), 2U);
}

TEST_F(Life, AListenerHearsWhatAnotherTabDoes) {
  new_job();
  std::string told;
  std::thread other([this] {
    std::this_thread::sleep_for(std::chrono::milliseconds(300));
    raw("PUT", "/api/v1/jobs/v8/units", with_token(), "{\"units\":\"metric\"}");
  });
  auto c = client();
  c.Get("/api/v1/events?job=v8", [&](const char* data, std::size_t n) {
    told.append(data, n);
    return told.find("event: changed") == std::string::npos;
  });
  other.join();
  EXPECT_NE(told.find("\"job\":\"v8\""), std::string::npos) << told;
}

// Looking at a job touches its files too; only a new row of the journal is told, and once.
TEST_F(Life, AListenerIsToldOfEveryRowOfTheJournalOnceAndOfNoLook) {
  new_job();
  std::string told;
  std::thread other([this] {
    const auto pause = [] { std::this_thread::sleep_for(std::chrono::milliseconds(1500)); };
    for (const char* units : {"metric", "us"}) {
      raw("PUT", "/api/v1/jobs/v8/units", with_token(), fmt::format("{{\"units\":\"{}\"}}", units));
      pause();  // longer than the server takes to see what others did
      get("/api/v1/jobs/v8/chart");
      get("/api/v1/jobs/v8/sheet");
      pause();
    }
    new_job("last");
  });
  auto c = client();
  c.Get("/api/v1/events", [&](const char* data, std::size_t n) {
    told.append(data, n);
    return told.find("\"job\":\"last\"") == std::string::npos;
  });
  other.join();
  std::map<std::string, int> times;
  for (auto at = told.find("event: changed"); at != std::string::npos;
       at = told.find("event: changed", at + 1)) {
    ++times[told.substr(at, told.find("\n\n", at) - at)];
  }
  EXPECT_GE(times.size(), 2U) << told;
  for (const auto& [event, count] : times) EXPECT_EQ(count, 1) << event;
}

}  // namespace
}  // namespace fuelwright::tests
