// Every honest file is read right; every dishonest one is refused in one clear line and leaves the
// job as it was.
#include "tests/corpus/corpus.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <set>

#include "service/service.h"

namespace fuelwright::corpus {
namespace {

constexpr std::size_t kFewest = 60;
constexpr double kRounding = 1e-9;  // relative: one conversion and one addition in doubles
constexpr double kClock_s = 1e-5;   // spreadsheet serials of ten decimals count 8.6 us
const service::Who kKim{"Kim", "2026-05-04T09:30:00Z"};

constexpr const char* kSheet = R"(
[engine]
displacement = "2.2 l"
cylinders = 4
[cam]
intake_duration_050 = "218 deg"
[injection]
injector_flow = "30 lb/h at 43.5 psi"
squirts_per_cycle = 1
[fuel]
name = "E10"
[wishes]
scale = "afr 14.7"
idle_mixture = 13.5
cruise_mixture = 14.2
full_throttle_mixture = 12.6
)";

std::string title(std::string name) {
  std::ranges::replace_if(
      name, [](char c) { return std::isalnum(static_cast<unsigned char>(c)) == 0; }, '_');
  return name;
}

bool same(double a, double b, double least) {
  if (std::isnan(a) || std::isnan(b)) return std::isnan(a) && std::isnan(b);
  return std::abs(a - b) <= std::max(least, kRounding * std::abs(b));
}

void expect_values(const std::vector<double>& got, const std::vector<double>& truth, double least,
                   const std::string& what) {
  ASSERT_EQ(got.size(), truth.size()) << what;
  for (std::size_t i = 0; i < got.size(); ++i) {
    ASSERT_TRUE(same(got[i], truth[i], least))
        << what << ", row " << i << ": came " << got[i] << ", is " << truth[i];
  }
}

class Honest : public testing::TestWithParam<HonestFile> {};

TEST_P(Honest, FileIsReadWithEveryChannelRight) {
  const HonestFile& f = GetParam();
  const auto read = signals::read_recording(f.bytes, f.name, f.answers);
  ASSERT_TRUE(read) << read.error().line();
  for (const Truth& t : f.channels) {
    if (t.what == signals::Quantity::other) continue;
    const signals::Channel* c = read->find(t.what, t.bank);
    ASSERT_NE(c, nullptr) << signals::info(t.what).label;
    const double least = kRounding * signals::info(t.what).highest * 1e-3;
    expect_values(c->si, t.si, std::min(least, 1e-6), signals::info(t.what).label);
    EXPECT_GE(c->confidence, signals::kSure) << c->header;
  }
  expect_values(read->time_s, f.time_s, kClock_s, "time");
  EXPECT_EQ(read->segments.size(), f.segments);
}

INSTANTIATE_TEST_SUITE_P(Corpus, Honest, testing::ValuesIn(honest_files()),
                         [](const auto& p) { return title(p.param.name); });

class Dishonest : public testing::TestWithParam<DishonestFile> {
 protected:
  void SetUp() override {
    std::string name =
        (std::filesystem::temp_directory_path() / "fuelwright_corpus_XXXXXX").string();
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    folder_ = name;
    job_ = folder_ + "/car.fw";
    const auto made =
        service::new_job({job_, kSheet, "car.toml", std::nullopt, std::nullopt, kKim});
    ASSERT_TRUE(made) << made.error().line();
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  // Everything that a person could see of the job.
  std::string seen() const {
    const auto job = service::Job::open(job_, service::Access::read);
    if (!job) return job.error().line();
    const auto journal = job->journal();
    const auto recordings = job->recordings();
    if (!journal || !recordings) return "the job cannot be read";
    std::string out;
    for (const auto& row : *journal) out += row.when + row.who + row.command + row.why + "\n";
    for (const auto& row : *recordings) out += row.name + row.sha256 + "\n";
    return out;
  }

  std::string folder_;
  std::string job_;
};

TEST_P(Dishonest, FileIsRefusedInOneClearLineAndTheJobIsUntouched) {
  const DishonestFile& f = GetParam();
  const std::string before = seen();
  const auto added = service::add_recording({job_, f.name, f.bytes, f.answers, std::nullopt, kKim});
  ASSERT_FALSE(added) << "it was taken";
  const std::string line = added.error().line();
  EXPECT_EQ(added.error().code, f.code) << line;
  EXPECT_NE(line.find(f.says), std::string::npos) << line;
  EXPECT_NE(line.find(f.name), std::string::npos) << "it must name the file: " << line;
  EXPECT_TRUE(std::ranges::none_of(line, [](char c) { return static_cast<unsigned char>(c) < 32; }))
      << line;
  EXPECT_NE(exit_code(added.error().code), 0);
  EXPECT_EQ(seen(), before);
}

INSTANTIATE_TEST_SUITE_P(Corpus, Dishonest, testing::ValuesIn(dishonest_files()),
                         [](const auto& p) { return title(p.param.name); });

TEST(Corpus, HasEnoughFilesOfBothKindsUnderNamesOfTheirOwn) {
  std::set<std::string> names;
  for (const HonestFile& f : honest_files()) EXPECT_TRUE(names.insert(f.name).second) << f.name;
  EXPECT_GE(names.size(), kFewest);
  names.clear();
  for (const DishonestFile& f : dishonest_files()) {
    EXPECT_TRUE(names.insert(f.name).second) << f.name;
  }
  EXPECT_GE(names.size(), kFewest);
}

}  // namespace
}  // namespace fuelwright::corpus
