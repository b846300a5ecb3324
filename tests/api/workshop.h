/// The program serving a folder of its own, and a client that holds its token.
#pragma once

#include <gtest/gtest.h>
#include <httplib.h>
#include <sys/types.h>

#include <memory>
#include <nlohmann/json.hpp>
#include <string>

namespace fuelwright::tests {

using Json = nlohmann::json;

/// `fuelwright serve`; ends with its object.
class Program {
 public:
  /// Starts and waits for the address; `port` 0: any.
  explicit Program(const std::string& folder, int port = 0);
  ~Program();
  Program(const Program&) = delete;
  Program& operator=(const Program&) = delete;

  int port() const { return port_; }
  std::string said() const { return said_; }
  void signal(int number) const;
  /// Waits for its end; the exit code, or -signal.
  int end();

 private:
  pid_t pid_ = -1;
  int out_ = -1;
  int port_ = 0;
  std::string said_;
};

struct Reply {
  int status = 0;
  std::string text;
  httplib::Headers headers;
  Json json() const { return Json::parse(text, nullptr, false); }
  /// `error.code`, or empty.
  std::string code() const;
  std::string message() const;
};

class Workshop : public testing::Test {
 protected:
  void SetUp() override;
  void TearDown() override;

  void start(int port = 0);
  void kill_hard();

  /// Holds the reply against docs/http.md.
  Reply get(const std::string& target);
  Reply send(const std::string& method, const std::string& target, const Json& body);
  Reply send_bytes(const std::string& target, const std::string& bytes,
                   const std::string& type = "application/octet-stream");
  /// Puts work up and waits for its end; its `reply`, or its `error`.
  Json work(const std::string& target, const Json& body = Json::object());
  /// Whatever is wanted, nothing added or checked.
  Reply raw(const std::string& method, const std::string& target, const httplib::Headers& headers,
            const std::string& body = "", const std::string& type = "application/json") const;

  /// A job from five answers.
  void new_job(const std::string& job = "v8");
  /// The same with a VE table as found.
  void new_job_with_table(const std::string& job = "v8");
  /// `bytes` empty: drive().
  std::int64_t add_drive(const std::string& job = "v8", const std::string& name = "drive.csv",
                         const std::string& bytes = "");

  /// Made up: a warm engine over the map whose air is that of new_job_with_table() times `air`, fed
  /// for lambda 1 without correction. 20 rows a second.
  static std::string drive(double seconds = 240, double air = 1.04);

  httplib::Client client() const;
  httplib::Headers with_token() const;

  std::string folder_;
  std::string token_;
  std::unique_ptr<Program> program_;
};

}  // namespace fuelwright::tests
