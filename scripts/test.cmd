@echo off
rem Run the tests. What is added goes to pytest: scripts/test tests/frames -q
rem Not tried on Windows yet: written from the sh script beside it.
setlocal
cd /d "%~dp0.."
rem Else each process that a test starts compiles the whole package anew.
set PYTHONDONTWRITEBYTECODE=
set PYTHON=python
where py >nul 2>nul && set PYTHON=py -3
%PYTHON% scripts\bootstrap.py test --system-packages -- -m pytest -n 2 --dist loadfile --no-loadscope-reorder %*
exit /b %ERRORLEVEL%
