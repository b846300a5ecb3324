#include "base/result.h"

#include <gtest/gtest.h>

#include <set>

namespace fuelwright::result_test {
namespace {

Result<int> whole_half(int x) {
  if (x % 2 != 0)
    return Error{ErrorCode::bad_input, "x", "came an odd number, expected an even one"};
  return x / 2;
}

Result<int> quarter(int x) {
  FW_TRY(const int half, whole_half(x));
  return whole_half(half);
}

TEST(Result, AnErrorTravelsUpUnchanged) {
  ASSERT_TRUE(quarter(12));
  EXPECT_EQ(*quarter(12), 3);
  ASSERT_FALSE(quarter(6));
  EXPECT_EQ(quarter(6).error().line(), "x: came an odd number, expected an even one");
}

TEST(Result, ReadingAValueThatIsNotThereIsOurOwnBug) {
  EXPECT_THROW((void)quarter(6).value(), Bug);
  EXPECT_THROW((void)quarter(12).error(), Bug);
}

TEST(Result, EveryErrorCodeHasANameAnExitCodeAndAnHttpStatus) {
  std::set<std::string> names;
  for (int i = 0; i <= static_cast<int>(ErrorCode::newer_version); ++i) {
    const auto code = static_cast<ErrorCode>(i);
    names.insert(name_of(code));
    EXPECT_GE(exit_code(code), 2);
    EXPECT_GE(http_status(code), 400);
  }
  EXPECT_EQ(names.size(), static_cast<std::size_t>(ErrorCode::newer_version) + 1);
}

}  // namespace
}  // namespace fuelwright::result_test
