@echo off
rem Review damaged files. scripts/fuzz [--count N] [--seed N]
rem Not tried on Windows yet: written from the sh script beside it.
setlocal
cd /d "%~dp0.."
set PYTHON=python
where py >nul 2>nul && set PYTHON=py -3
%PYTHON% scripts\bootstrap.py test -- scripts/fuzz.py %*
exit /b %ERRORLEVEL%
