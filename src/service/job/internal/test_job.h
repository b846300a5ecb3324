/// For this module's tests: a folder that goes away, small but complete contents, raw SQL behind
/// the Job's back.
#pragma once

#include <gtest/gtest.h>
#include <sqlite3.h>
#include <stdlib.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <iterator>
#include <random>
#include <string>

#include "service/job/job.h"

namespace fuelwright::service {

/// ASSERT_OK(job.set_units(...)): says the error's own line.
#define ASSERT_OK(expression)                                \
  do {                                                       \
    const auto& fw_result = (expression);                    \
    ASSERT_TRUE(fw_result.ok()) << fw_result.error().line(); \
  } while (false)

#define EXPECT_ERROR(expression, expected)                               \
  do {                                                                   \
    const auto& fw_result = (expression);                                \
    if (fw_result.ok()) {                                                \
      ADD_FAILURE() << "no error came, expected " << name_of(expected);  \
    } else {                                                             \
      EXPECT_STREQ(name_of(fw_result.error().code), name_of(expected))   \
          << fw_result.error().line();                                   \
      EXPECT_EQ(fw_result.error().line().find('\n'), std::string::npos); \
    }                                                                    \
  } while (false)

inline By by(const std::string& why = "test") {
  return {.who = "A. Technician", .when = "2026-05-04T09:30:00Z", .why = why};
}

inline car::Grid small_grid() {
  return {car::Axis::even(car::AxisKind::engine_speed, 800, 6000, 5),
          car::Axis::even(car::AxisKind::map_absolute, 30e3, 101.325e3, 4)};
}

inline car::Calibration small_calibration(double ve = 0.8) {
  car::Calibration out;
  out.tables.emplace(car::TableWhat::ve, car::Surface::flat(small_grid(), ve));
  out.tables.emplace(car::TableWhat::lambda_target, car::Surface::flat(small_grid(), 1.0));
  return out;
}

inline ProposalIn small_proposal(int parent, double ve = 0.83) {
  const std::size_t n = small_grid().size();
  car::Evidence evidence{.what = car::TableWhat::ve,
                         .grid = small_grid(),
                         .estimate = std::vector<double>(n, ve),
                         .sd_log = std::vector<double>(n, 0.02),
                         .seconds = std::vector<double>(n, 12.5),
                         .mark = std::vector<car::NodeMark>(n, car::NodeMark::inferred)};
  evidence.mark[3] = car::NodeMark::measured;
  evidence.mark[7] = car::NodeMark::prior_only;
  return {.proposal = {.parent = parent,
                       .calibration = small_calibration(ve),
                       .evidence = std::move(evidence),
                       .reason = "richer where driven"},
          .details_json = R"({"verdict": "good"})",
          .recordings = {}};
}

/// Bytes that do not compress.
inline std::string noise(std::size_t size, unsigned seed) {
  std::mt19937 random(seed);
  std::string out(size, '\0');
  for (char& c : out) c = static_cast<char>(random());
  return out;
}

inline std::string bytes_of(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

inline void write_bytes(const std::string& path, const std::string& bytes) {
  std::ofstream(path, std::ios::binary | std::ios::trunc) << bytes;
}

/// Runs SQL with SQLite itself; "" or its complaint.
inline std::string raw_sql(const std::string& path, const std::string& sql) {
  sqlite3* db = nullptr;
  sqlite3_open_v2(path.c_str(), &db, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, nullptr);
  char* complaint = nullptr;
  sqlite3_exec(db, sql.c_str(), nullptr, nullptr, &complaint);
  const std::string out = complaint != nullptr ? complaint : "";
  sqlite3_free(complaint);
  sqlite3_close(db);
  return out;
}

class JobTest : public testing::Test {
 protected:
  JobTest() {
    // In memory where there is such a place: thousands of small files are made here.
    const std::string place = access("/dev/shm", W_OK) == 0
                                  ? "/dev/shm"
                                  : std::filesystem::temp_directory_path().string();
    std::string name = place + "/fuelwright-job-XXXXXX";
    folder_ = mkdtemp(name.data());
  }
  ~JobTest() override { std::filesystem::remove_all(folder_); }

  std::string in_folder(const std::string& name) const { return folder_ + "/" + name; }
  std::string path() const { return in_folder("coupe.fw"); }
  std::size_t files_in_folder() const {
    return static_cast<std::size_t>(
        std::distance(std::filesystem::directory_iterator(folder_), {}));
  }

  /// A new job with nothing but its sheet.
  Job fresh() const {
    auto job =
        Job::create(path(), {.sheet_toml = "[engine]\n", .units = UnitSystem::us, .by = by("new")});
    EXPECT_TRUE(job.ok()) << job.error().line();
    return std::move(*job);
  }
  /// Sheet, a setting, two recordings, revisions 0 and 1, an open proposal: every kind of row.
  Job full() const {
    Job job = fresh();
    EXPECT_TRUE(job.set_setting("columns.csv", R"({"RPM": "speed"})", by()));
    EXPECT_TRUE(
        job.add_recording({.name = "a.csv", .bytes = "rpm,kPa\n800,40\n", .reading = {}}, by()));
    EXPECT_TRUE(job.add_recording({.name = "b.csv", .bytes = noise(9000, 5), .reading = {}}, by()));
    EXPECT_TRUE(job.add_as_found(small_calibration(), by()));
    ProposalIn first = small_proposal(0);
    first.recordings = {{1}, {2}};
    EXPECT_TRUE(job.save_proposal(first, by()));
    EXPECT_TRUE(job.accept_proposal(by("drives well")));
    EXPECT_TRUE(job.save_proposal(small_proposal(1, 0.84), by()));
    return job;
  }

  std::string folder_;
};

}  // namespace fuelwright::service
