#include "workshop.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmath>
#include <csignal>
#include <filesystem>

#include "documented.h"

namespace fuelwright::tests {

Program::Program(const std::string& folder, int port) {
  int ends[2];
  if (pipe2(ends, O_CLOEXEC) != 0) return;
  const std::string number = std::to_string(port);
  pid_ = fork();
  if (pid_ == 0) {
    dup2(ends[1], STDOUT_FILENO);
    dup2(ends[1], STDERR_FILENO);
    execl(FUELWRIGHT_PROGRAM, FUELWRIGHT_PROGRAM, "serve", folder.c_str(), "--port", number.c_str(),
          nullptr);
    _exit(127);
  }
  close(ends[1]);
  out_ = ends[0];
  char c = 0;
  while (said_.find("/\n") == std::string::npos && read(out_, &c, 1) == 1) said_ += c;
  const auto at = said_.find("127.0.0.1:");
  if (at != std::string::npos && said_.starts_with("Fuelwright")) {
    port_ = std::stoi(said_.substr(at + 10));
  }
}

Program::~Program() {
  if (pid_ > 0) {
    kill(pid_, SIGKILL);
    end();
  }
  if (out_ >= 0) close(out_);
}

void Program::signal(int number) const { kill(pid_, number); }

int Program::end() {
  int status = 0;
  if (pid_ <= 0 || waitpid(pid_, &status, 0) != pid_) return -1000;
  pid_ = -1;
  return WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
}

std::string Reply::code() const {
  const Json j = json();
  return j.is_object() && j.contains("error") ? j["error"].value("code", "") : "";
}

std::string Reply::message() const {
  const Json j = json();
  return j.is_object() && j.contains("error") ? j["error"].value("message", "") : "";
}

void Workshop::SetUp() {
  std::string name = (std::filesystem::temp_directory_path() / "fuelwright_api_XXXXXX").string();
  ASSERT_NE(mkdtemp(name.data()), nullptr);
  folder_ = name;
  start();
}

void Workshop::TearDown() {
  program_.reset();
  std::filesystem::remove_all(folder_);
}

void Workshop::start(int port) {
  program_ = std::make_unique<Program>(folder_, port);
  ASSERT_GT(program_->port(), 0) << program_->said();
  const Reply session = raw("GET", "/api/v1/session", {});
  ASSERT_EQ(session.status, 200) << session.text;
  token_ = session.json().at("token");
}

void Workshop::kill_hard() {
  program_->signal(SIGKILL);
  EXPECT_EQ(program_->end(), -SIGKILL);
}

httplib::Client Workshop::client() const {
  httplib::Client c("127.0.0.1", program_->port());
  c.set_read_timeout(60);
  return c;
}

httplib::Headers Workshop::with_token() const { return {{"X-Fuelwright-Token", token_}}; }

Reply Workshop::raw(const std::string& method, const std::string& target,
                    const httplib::Headers& headers, const std::string& body,
                    const std::string& type) const {
  httplib::Request q;
  q.method = method;
  q.path = target;
  q.headers = headers;
  q.body = body;
  if (!body.empty() || (method != "GET" && method != "DELETE"))
    q.headers.emplace("Content-Type", type);
  auto c = client();
  const auto r = c.send(q);
  if (!r) return {0, httplib::to_string(r.error()), {}};
  return {r->status, r->body, r->headers};
}

namespace {

void is_documented(const std::string& method, const std::string& target, const Reply& r) {
  const DocumentedRoute* doc = documented(method, target);
  ASSERT_NE(doc, nullptr) << method << " " << target << " is not in docs/http.md";
  EXPECT_EQ(r.headers.count("Cache-Control"), 1U) << target;
  if (r.status >= 400) {
    const Json j = r.json();
    ASSERT_TRUE(j.is_object() && j.contains("error")) << r.text;
    for (const char* key : {"code", "where", "message"}) EXPECT_TRUE(j["error"].contains(key));
    EXPECT_EQ(j["error"].value("message", "\n").find('\n'), std::string::npos) << r.text;
    return;
  }
  if (doc->keys.empty()) return;  // a file
  EXPECT_EQ(keys_of(r.json()), doc->keys) << method << " " << target;
}

}  // namespace

Reply Workshop::get(const std::string& target) {
  Reply r = raw("GET", target, {});
  is_documented("GET", target, r);
  return r;
}

Reply Workshop::send(const std::string& method, const std::string& target, const Json& body) {
  Reply r = raw(method, target, with_token(), body.is_null() ? "" : body.dump());
  is_documented(method, target, r);
  return r;
}

Reply Workshop::send_bytes(const std::string& target, const std::string& bytes,
                           const std::string& type) {
  Reply r = raw("POST", target, with_token(), bytes, type);
  is_documented("POST", target, r);
  return r;
}

Json Workshop::work(const std::string& target, const Json& body) {
  Reply r = send("POST", target, body);
  if (r.status >= 400) return r.json().at("error");
  Json item = r.json();
  for (int i = 0; i < 6 && item.at("status").is_null(); ++i) {
    item = get("/api/v1/long-work/" + item.at("id").dump() + "?wait=20").json();
  }
  EXPECT_FALSE(item.at("status").is_null()) << target << " does not end";
  if (item.at("reply").is_null()) return item.at("error");
  const DocumentedRoute* doc = documented("POST", target);
  if (doc && !doc->reply.empty()) {
    EXPECT_EQ(keys_of(item["reply"]), doc->reply) << target;
  }
  return item["reply"];
}

void Workshop::new_job(const std::string& job) {
  const Reply r = send(
      "POST", "/api/v1/jobs",
      {{"job", job}, {"answers", {"350 cu in", "8", "222 deg", "30 lb/h at 43.5 psi", "E10"}}});
  ASSERT_EQ(r.status, 201) << r.text;
}

void Workshop::new_job_with_table(const std::string& job) {
  std::string table = "kPa \\ rpm";
  for (int n = 800; n <= 5600; n += 800) table += fmt::format("\t{}", n);
  for (int p = 25; p <= 100; p += 15) {
    table += fmt::format("\n{}", p);
    for (int n = 800; n <= 5600; n += 800) table += fmt::format("\t{}", 60 + p / 5 + n / 400);
  }
  const Reply r = send("POST", "/api/v1/jobs",
                       {{"job", job},
                        {"answers", {"350 cu in", "8", "222 deg", "30 lb/h at 43.5 psi", "E10"}},
                        {"ve_as_found", {{"text", table + "\n"}}}});
  ASSERT_EQ(r.status, 201) << r.text;
}

std::int64_t Workshop::add_drive(const std::string& job, const std::string& name,
                                 const std::string& bytes) {
  const Reply up =
      send_bytes("/api/v1/jobs/" + job + "/uploads?name=" + name, bytes.empty() ? drive() : bytes);
  EXPECT_EQ(up.status, 201) << up.text;
  if (up.status != 201) return 0;
  const Json added = work("/api/v1/jobs/" + job + "/add", {{"upload", up.json().at("upload")}});
  EXPECT_TRUE(added.contains("id")) << added;
  return added.value("id", std::int64_t{0});
}

std::string Workshop::drive(double seconds, double air) {
  // 350 cu in in 8 cylinders, 30 lb/h at 43.5 psi, E10 of about 14.1; charge near 310 K.
  constexpr double kCylinder_m3 = 5.735e-3 / 8, kFlow_kg_s = 3.78e-3, kStoichiometric = 14.1;
  std::string out =
      "Time (s),RPM (rpm),MAP (kPa),Throttle (%),Coolant (degC),Intake air (degC),Lambda (lambda),"
      "Lambda target (lambda),Pulse width (ms),Battery (V),Speed (km/h)\n";
  for (int i = 0; i < static_cast<int>(20 * seconds); ++i) {
    const double t = 0.05 * i;
    const double rpm = 2200 + 900 * std::sin(t / 17) + 300 * std::sin(t / 3.1);
    const double kpa = 50 + 18 * std::sin(t / 11) + 4 * std::sin(t / 1.7);
    const double ve = 0.01 * (60 + kpa / 5 + rpm / 400);
    const double air_kg = ve * kpa * 1e3 * kCylinder_m3 / (287.05 * 310);
    const double ms = 1.0 + 1e3 * air_kg / kStoichiometric / kFlow_kg_s;
    const double lambda = air * (1 + 0.01 * std::sin(t / 0.9));
    out += fmt::format("{:.2f},{:.0f},{:.1f},{:.1f},92,30,{:.3f},1.000,{:.3f},13.8,{:.1f}\n", t,
                       rpm, kpa, kpa / 3, lambda, ms, rpm / 45);
  }
  return out;
}

}  // namespace fuelwright::tests
