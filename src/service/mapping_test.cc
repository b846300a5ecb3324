// What the user answered for one kind of file serves the next file of that kind.
#include "service/mapping.h"

#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>
#include <string>

#include "service/report/text.h"
#include "service/service.h"

namespace fuelwright::service::mapping_test {
namespace {

const Who kKim{"Kim", "2026-05-04T09:30:00Z"};

constexpr const char* kSheet = R"(
[engine]
displacement = "5.7 l"
cylinders = 8
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

// An AFR column whose constant the file does not say.
std::string drive(double offset) {
  std::string out = "Time (s),RPM (rpm),MAP (kPa),AFR\n";
  for (int i = 0; i < 200; ++i) {
    out += std::to_string(0.1 * i) + "," + std::to_string(900 + 10 * (i % 90)) + "," +
           std::to_string(35 + i % 60) + "," + std::to_string(13.5 + offset + 0.01 * (i % 40)) +
           "\n";
  }
  return out;
}

class Mapping : public testing::Test {
 protected:
  void SetUp() override {
    std::string name = (std::filesystem::temp_directory_path() / "fuelwright_map_XXXXXX").string();
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    folder_ = name;
    job_ = folder_ + "/coupe.fw";
    const auto made = new_job({job_, kSheet, "coupe.toml", std::nullopt, std::nullopt, kKim});
    ASSERT_TRUE(made) << made.error().line();
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  Result<AddReply> add(const std::string& bytes, const signals::Answers& answers) {
    return add_recording({job_, "drive.csv", bytes, answers, std::nullopt, kKim});
  }

  static signals::Answers afr(const char* text) {
    signals::Answers answers;
    EXPECT_TRUE(signals::add_channel_answer(answers, text));
    return answers;
  }

  std::string folder_;
  std::string job_;
};

TEST_F(Mapping, TheAnswerForOneFileServesTheNextWithTheSameColumns) {
  EXPECT_FALSE(add(drive(0), {})) << "the constant is not said yet";
  const auto first = add(drive(0), afr("AFR=lambda:afr 14.7"));
  ASSERT_TRUE(first) << first.error().line();
  EXPECT_EQ(first->kept_answers, "");
  const auto second = add(drive(0.1), {});
  ASSERT_TRUE(second) << second.error().line();
  EXPECT_EQ(second->kept_answers, "AFR=lambda:afr 14.7");
  EXPECT_NE(text(*second).find("kept from an earlier file"), std::string::npos);
}

TEST_F(Mapping, WhatIsSaidNowGoesBeforeWhatWasKept) {
  ASSERT_TRUE(add(drive(0), afr("AFR=lambda:afr 14.7")));
  const auto second = add(drive(0.1), afr("AFR=lambda:afr 14.1"));
  ASSERT_TRUE(second);
  EXPECT_EQ(second->columns[3].unit, "afr 14.1");
  const auto third = add(drive(0.2), {});
  ASSERT_TRUE(third);
  EXPECT_EQ(third->columns[3].unit, "afr 14.1") << "and is kept in its turn";
}

TEST_F(Mapping, AFileOfAnotherKindIsAskedAboutAgain) {
  ASSERT_TRUE(add(drive(0), afr("AFR=lambda:afr 14.7")));
  std::string other = drive(0.1);
  other.replace(other.find("MAP (kPa)"), 9, "MAP (psi)");
  EXPECT_FALSE(add(other, {}));
}

TEST_F(Mapping, AFileThatIsRefusedKeepsNothing) {
  EXPECT_FALSE(add(drive(0) + "torn,row\n", afr("AFR=lambda:afr 14.7")));
  EXPECT_FALSE(add(drive(0), {}));
}

TEST_F(Mapping, AKeptAnswerThatNoLongerFitsIsNamedInTheRefusal) {
  ASSERT_TRUE(add(drive(0), afr("AFR=lambda:afr 14.7")));
  const auto wrong = add(drive(60), {});
  ASSERT_FALSE(wrong);
  EXPECT_NE(wrong.error().line().find("kept for such files: AFR=lambda:afr 14.7"),
            std::string::npos)
      << wrong.error().line();
}

}  // namespace
}  // namespace fuelwright::service::mapping_test
